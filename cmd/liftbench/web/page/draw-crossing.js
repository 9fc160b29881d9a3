// One crossing in close-up: from above, turned so that the machine drives to
// the right, and below it the tools in profile.

import { el, num } from "./node.js";
import { pattern } from "./hatch.js";
import { legend, box, stroke, SMALL } from "./legend.js";
import { mark, diamond } from "./mark.js";
import { layoutOf, groundOf, LEFT } from "./closeup-layout.js";
import { drawAbove, barAbove } from "./draw-above.js";
import { drawProfile, toolsInProfile } from "./draw-profile.js";

/** @typedef {import("./node.js").Node} Node */

/**
 * @typedef {object} CrossingDrawing
 * @property {import("./drive.js").Closeup} closeup
 * @property {import("./drive.js").Drive} drive   whose it is
 * @property {number} width px
 * @property {import("./palette.js").Palette} palette
 */

/** @param {CrossingDrawing} o @returns {Node} */
export function drawCrossing({ closeup: c, drive, width, palette: p }) {
  const { depth } = drive;
  const layout = layoutOf(c, depth, width);
  const key = crossingLegend(c.on, drive.simulated ? "simulated" : "recorded", p, width);
  const height = Math.ceil(layout.keyY + key.height);
  const title = (y, text) => el("text", { x: 0, y: num(y - 10), fill: p.quiet, ...SMALL }, text);
  return el("svg", { width, height, viewBox: `0 0 ${width} ${height}` },
    el("defs", {}, /** @type {const} */ (["overrun", "across_rows", "miss"]).map((k) => pattern(`crossing-${k}`, k, p))),
    el("rect", { x: 0, y: 0, width, height, fill: p.ground }),
    title(layout.aboveY, "From above; driving to the right"),
    el("g", { transform: `translate(${LEFT} ${layout.aboveY})` }, drawAbove(c, groundOf(c, drive.zones, drive.rowTolerance), layout, p)),
    layout.profile ? title(layout.profileY, "Tool height over the way, m from the ideal crossing") : null,
    el("g", { transform: `translate(${LEFT} ${num(layout.profileY)})` }, drawProfile(c, depth, layout, p)),
    el("g", { transform: `translate(0 ${num(layout.keyY)})` }, key.node));
}

/**
 * What moves over the drawing with the cursor.
 * @param {CrossingDrawing} o
 * @param {number} t s; outside of the close-up there is nothing
 * @returns {Node|null}
 */
export function crossingCursor({ closeup: c, drive, width, palette: p }, t) {
  if (t < c.from || t > c.until) return null;
  const layout = layoutOf(c, drive.depth, width);
  return el("g", {},
    el("g", { transform: `translate(${LEFT} ${layout.aboveY})` }, barAbove(c, layout, p, t)),
    el("g", { transform: `translate(${LEFT} ${num(layout.profileY)})` }, toolsInProfile(c, layout, p, t)));
}

/** @param {boolean} on @param {string} source   of what the tools did @param {import("./palette.js").Palette} p @param {number} width */
function crossingLegend(on, source, p, width) {
  const hatched = (kind, colour) => [box({ fill: `url(#crossing-${kind})`, stroke: colour })];
  return legend([
    { swatch: [box({ fill: p.inWork, "fill-opacity": 0.6 })], text: `in work (${source})` },
    { swatch: [box({ fill: p.raised, "fill-opacity": 0.35, stroke: p.quiet })], text: "raised" },
    { swatch: hatched("overrun", p.late), text: "overrun" },
    { swatch: hatched("across_rows", p.late), text: "overrun across rows" },
    { swatch: hatched("miss", p.miss), text: "miss" },
    { swatch: [el("path", { d: "M9 -1V13", stroke: p.ink, "stroke-width": 2.2, fill: "none" })], text: "ideal crossing" },
    { swatch: [stroke({ stroke: p.ink, "stroke-width": 1.4, "stroke-dasharray": "7 3" })], text: "zone border" },
    { swatch: [diamond(9, 6, p)], text: "command" },
    { swatch: [mark(9, 6, on, "late", p, 5)], text: `${source} ${on ? "drop" : "lift"}, late` },
    { swatch: [mark(9, 6, on, "early", p, 5)], text: "early" },
    { swatch: [stroke({ stroke: p.quiet, "stroke-width": 0.9, "stroke-dasharray": "1 3" })], text: "effective depth" },
  ], width, p.ink);
}
