// The result in figures: this setting, the pinned one, and the difference.

import { h } from "./html.js";
import { compare } from "./diff.js";
import { fixed, signed } from "./format.js";
import { watchedLines } from "./lessons.js";

export class Numbers {
  /** @param {HTMLElement} host @param {HTMLElement} spoken   an aria-live element */
  constructor(host, spoken) {
    this.host = host;
    this.spoken = spoken;
    this.speak = 0;
  }

  /**
   * @param {import("./drive.js").Drive} drive
   * @param {import("./drive.js").Drive|null} pinned
   * @param {string} [watch]   what a lesson looks at
   */
  show(drive, pinned, watch = "") {
    const lines = compare(drive.summary, pinned?.summary ?? null);
    const head = ["", "Unit", "This setting", ...(pinned ? ["Pinned", "Difference"] : [])];
    const write = (l, x) => (l.signed ? signed(x, l.decimals) : fixed(x, l.decimals));
    const watched = watchedLines(watch);
    this.host.replaceChildren(h("table", { class: "numbers" },
      h("caption", {}, "Errors: actual minus ideal, positive = late."),
      h("thead", {}, h("tr", {}, head.map((t) => h("th", { scope: "col" }, t)))),
      h("tbody", {}, lines.map((l) => h("tr", { class: watched.some((w) => l.key.startsWith(w)) ? "watched" : null, "data-line": l.key },
        h("th", { scope: "row" }, l.label),
        h("td", { class: "unit" }, l.unit),
        h("td", { class: "number now" }, write(l, l.now)),
        pinned && h("td", { class: "number" }, write(l, l.pinned)),
        pinned && h("td", { class: "number difference" }, signed(l.difference, l.decimals)))))));
    const of = (key) => lines.find((l) => l.key === key);
    const say = ["lift place mean", "drop place mean", "overrun", "miss"].map((k) => {
      const l = of(k);
      return l ? `${l.label} ${write(l, l.now)} ${l.unit}` : "";
    }).join("; ");
    // Only what stays is spoken, not each step of a slider.
    clearTimeout(this.speak);
    this.speak = setTimeout(() => (this.spoken.textContent = say), 700);
  }
}
