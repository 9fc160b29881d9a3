// The result in figures: this setting, the pinned one, and the difference.

import { h } from "./html.js";
import { compare } from "./diff.js";
import { fixed, signed, withUnit } from "./format.js";
import { watchedLines } from "./lessons.js";

/** @typedef {import("./diff.js").Line} Line */

/** @param {Line} l @param {number|null} x */
const write = (l, x) => (l.signed ? signed(x, l.decimals) : fixed(x, l.decimals));

export class Numbers {
  /**
   * @param {HTMLElement} host
   * @param {HTMLElement} short   the main figures in a line
   * @param {HTMLElement} spoken   an aria-live element
   */
  constructor(host, short, spoken) {
    this.host = host;
    this.short = short;
    this.spoken = spoken;
    this.speak = 0;
  }

  /**
   * @param {import("./drive.js").Drive} drive
   * @param {import("./drive.js").Drive|null} pinned
   * @param {string} [watch]   what a lesson looks at
   */
  show(drive, pinned, watch = "") {
    if (!drive.summary) {
      this.host.replaceChildren();
      this.short.textContent = "";
      return;
    }
    const lines = compare(drive.summary, pinned?.summary ?? null);
    const watched = watchedLines(watch);
    this.host.replaceChildren(...["Lift", "Drop", "Ground"].map((group) =>
      table(group, lines.filter((l) => l.group === group), pinned !== null, (l) => watched.some((w) => l.key.startsWith(w)))));
    const say = [["lift place mean", "lift"], ["drop place mean", "drop"], ["overrun", "overrun"], ["miss", "miss"]].map(([key, name]) => {
      const l = /** @type {Line} */ (lines.find((x) => x.key === key));
      return `${name} ${withUnit(write(l, l.now), l.unit)}`;
    }).join(", ");
    this.short.textContent = say;
    // Only what stays is spoken, not each step of a slider.
    clearTimeout(this.speak);
    this.speak = setTimeout(() => (this.spoken.textContent = `Result: ${say}`), 700);
  }
}

/** @param {string} group @param {Line[]} lines @param {boolean} pinned @param {(l: Line) => boolean} watched */
function table(group, lines, pinned, watched) {
  const heads = ["now", ...(pinned ? ["pinned", "difference"] : [])];
  return h("table", { class: "numbers" },
    h("thead", {}, h("tr", {}, h("th", { scope: "col", class: "group" }, group), heads.map((t) => h("th", { scope: "col", class: "number" }, t)))),
    h("tbody", {}, lines.map((l) => h("tr", { class: watched(l) ? "watched" : null, "data-line": l.key },
      h("th", { scope: "row" }, l.label, l.unit && h("span", { class: "unit" }, `, ${l.unit}`)),
      h("td", { class: "number now" }, write(l, l.now)),
      pinned && h("td", { class: "number" }, write(l, l.pinned)),
      pinned && h("td", { class: "number difference" }, signed(l.difference, l.decimals))))));
}
