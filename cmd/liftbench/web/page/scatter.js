// The figure of error over speed, from the drive itself or from five drives
// at speeds around its own.

import { Frame } from "./frame.js";
import { drawScatter, fitText } from "./draw-scatter.js";
import { rounded } from "./grid.js";

/** @typedef {import("./draw-scatter.js").Point} Point */
/** @typedef {import("./drive.js").Fit} Fit */

/**
 * @typedef {object} Cloud
 * @property {{lift: Point[], drop: Point[]}} points
 * @property {{lift: Fit|null, drop: Fit|null}} fit
 */

/** @param {import("./drive.js").Drive} drive @returns {Cloud} */
export function cloudOf(drive) {
  const points = { lift: [], drop: [] };
  for (const e of drive.events) {
    if (e.placeM !== null) points[e.on ? "drop" : "lift"].push({ speed: Math.abs(e.speed), placeM: e.placeM, section: e.section });
  }
  return { points, fit: drive.fit };
}

/** @param {any} a   answer to /api/speeds @returns {Cloud} */
export function decodeSpeeds(a) {
  const points = { lift: [], drop: [] };
  for (const [on, speed, place, section] of a.points) {
    points[on === 1 ? "drop" : "lift"].push({ speed: Math.abs(speed) / 1000, placeM: place / 1e4, section });
  }
  return { points, fit: a.fit };
}

export class Scatter {
  /** @param {HTMLElement} host */
  constructor(host) {
    this.frame = new Frame(host, { name: "speed", title: "Error over speed" });
  }

  /** @param {Cloud} cloud @param {string} of   what drives it is of, in a sentence */
  show(cloud, of) {
    const { points, fit } = cloud;
    const said = ["lift", "drop"].map((m) => `${m}: ${fitText(fit[m], points[m])}`).join("; ");
    const unknown = ["lift", "drop"].some((m) => points[m].length > 0 && (fit[m]?.time_error_s ?? null) === null);
    this.frame.say(`${of && of + " "}The line e = Δx + v·Δt: its slope Δt is an error of timing, its value at standstill Δx one of geometry.${unknown ? " Where it cannot be told, drive again at two speeds." : ""}`);
    this.frame.show({
      of: [cloud],
      draw: (width, palette) => drawScatter({ points, fit, width, palette }),
      alt: `Place error over speed with the fitted line. ${said}.`,
      grid: () => ({
        columns: ["move", "section", "speed km/h", "place error cm"],
        rows: ["lift", "drop"].flatMap((m) => points[m].map((q) => [m, q.section + 1, rounded(q.speed * 3.6, 2), rounded(q.placeM * 100, 2)])),
      }),
    });
  }
}
