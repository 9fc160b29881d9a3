// The frame of a figure: title, tools, the drawing with its text alternative,
// its numbers as a table, and what can be saved of it.

import { toDom } from "./node.js";
import { light, dark } from "./palette.js";
import { h } from "./html.js";
import { toCsv, toTable } from "./grid.js";
import { saveSvg, savePng, saveCsv } from "./save.js";

/**
 * @typedef {object} Look
 * @property {(width: number, palette: import("./palette.js").Palette) => import("./node.js").Node} draw
 * @property {string} alt   what the drawing shows, in words
 * @property {() => import("./grid.js").Grid} grid   its numbers
 */

const darkness = matchMedia("(prefers-color-scheme: dark)");

export class Frame {
  /**
   * @param {HTMLElement} host   an empty <figure>
   * @param {object} o
   * @param {string} o.name   of saved files and of measurements
   * @param {string} o.title
   * @param {(HTMLElement)[]} [o.tools]
   * @param {Record<string, any>} [o.stage]   attributes of the element around the drawing
   */
  constructor(host, { name, title, tools = [], stage = {} }) {
    this.name = name;
    this.title = title;
    /** @type {Look|null} */
    this.look = null;
    this.stage = h("div", { class: "stage", ...stage });
    this.note = h("p", { class: "note" });
    this.tableHost = h("div", { class: "table-scroll", tabindex: "0", role: "region", "aria-label": `Numbers of: ${title}` });
    this.details = h("details", { class: "numbers-of", ontoggle: () => this.fillTable() }, h("summary", {}, "Numbers"), this.tableHost);
    const save = (label, act) => h("button", { type: "button", class: "quiet", "aria-label": `Save ${title.toLowerCase()} as ${label}`, onclick: act }, label);
    host.append(
      h("div", { class: "figure-head" }, h("h2", { id: `${name}-title` }, title), h("div", { class: "tools" }, tools)),
      this.stage, this.note,
      h("div", { class: "figure-foot" },
        h("span", { class: "save" }, "Save ", save("SVG", () => this.saveAs("svg")), save("PNG", () => this.saveAs("png")), save("CSV", () => this.saveAs("csv"))),
        this.details));
    host.setAttribute("aria-labelledby", `${name}-title`);
    this.queued = false;
    new ResizeObserver(() => this.redraw()).observe(this.stage);
    darkness.addEventListener("change", () => this.redraw());
  }

  /** Width of the drawing in pixels. */
  get width() {
    return Math.max(240, Math.floor(this.stage.clientWidth));
  }

  /** @param {Look|null} look   null = nothing to show */
  show(look) {
    this.look = look;
    this.redraw();
    if (this.details.open) this.fillTable();
  }

  /** Says below the drawing. @param {string} text */
  say(text) {
    if (this.note.textContent !== text) this.note.textContent = text;
  }

  redraw() {
    if (this.queued) return;
    this.queued = true;
    requestAnimationFrame(() => {
      this.queued = false;
      this.drawNow();
    });
  }

  drawNow() {
    if (!this.look) {
      this.stage.replaceChildren();
      return;
    }
    const start = performance.now();
    const svg = toDom(this.look.draw(this.width, darkness.matches ? dark : light));
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", this.look.alt);
    const old = this.stage.querySelector("svg");
    if (old) old.replaceWith(svg);
    else this.stage.append(svg);
    performance.measure(`draw ${this.name}`, { start, end: performance.now() });
  }

  fillTable() {
    if (this.details.open && this.look) this.tableHost.replaceChildren(toTable(this.look.grid(), this.title));
  }

  /** Saves as drawn on white, whatever the page's ground. @param {"svg"|"png"|"csv"} kind */
  saveAs(kind) {
    if (!this.look) return;
    const name = `liftbench-${this.name}`;
    if (kind === "csv") saveCsv(toCsv(this.look.grid()), name);
    else if (kind === "svg") saveSvg(this.look.draw(this.width, light), name);
    else savePng(this.look.draw(this.width, light), name);
  }
}
