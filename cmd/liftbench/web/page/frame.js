// The frame of a figure: title, tools, the drawing with its text alternative,
// its numbers as a table, and what can be saved of it.

import { toDom } from "./node.js";
import { light, dark } from "./palette.js";
import { h } from "./html.js";
import { toCsv, toTable } from "./grid.js";
import { saveSvg, savePng, saveCsv } from "./save.js";

/**
 * @typedef {object} Look
 * @property {any[]} of   what the drawing is made of: with the same, it need not be drawn again
 * @property {(width: number, palette: import("./palette.js").Palette) => import("./node.js").Node} draw
 * @property {(width: number, palette: import("./palette.js").Palette) => import("./node.js").Node|null} [cursor]   what moves over it
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
    /** @type {{of: any[], svg: SVGElement, cursor: SVGElement|null}|null} */
    this.drawn = null;
    new ResizeObserver(() => this.redraw()).observe(this.stage);
    darkness.addEventListener("change", () => this.redraw());
  }

  /** Width of the drawing in pixels. */
  get width() {
    return Math.max(240, Math.floor(this.stage.clientWidth));
  }

  /** @param {Look|null} look   null = nothing to show */
  show(look) {
    const same = alike(look?.of, this.look?.of);
    this.look = look;
    this.redraw();
    if (!same) this.fillTable();
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
    const { look, width } = this;
    if (!look) {
      this.drawn = null;
      this.stage.replaceChildren();
      return;
    }
    const palette = darkness.matches ? dark : light;
    const of = [...look.of, width, palette];
    if (!this.drawn || !alike(of, this.drawn.of)) {
      const start = performance.now();
      const svg = toDom(look.draw(width, palette));
      svg.setAttribute("role", "img");
      svg.setAttribute("aria-label", look.alt);
      this.stage.replaceChildren(svg);
      this.drawn = { of, svg, cursor: null };
      performance.measure(`draw ${this.name}`, { start, end: performance.now() });
    }
    this.drawn.cursor?.remove();
    const cursor = look.cursor?.(width, palette);
    this.drawn.cursor = cursor ? toDom(cursor) : null;
    if (this.drawn.cursor) this.drawn.svg.append(this.drawn.cursor);
  }

  fillTable() {
    if (this.details.open && this.look) this.tableHost.replaceChildren(toTable(this.look.grid(), this.title));
  }

  /** Saves as drawn on white, whatever the page's ground. @param {"svg"|"png"|"csv"} kind */
  saveAs(kind) {
    if (!this.look) return;
    const name = `liftbench-${this.name}`;
    if (kind === "csv") return saveCsv(toCsv(this.look.grid()), name);
    const node = this.look.draw(this.width, light);
    const cursor = this.look.cursor?.(this.width, light);
    if (cursor) node.kids.push(cursor);
    if (kind === "svg") saveSvg(node, name);
    else savePng(node, name);
  }
}

/** @param {any[]|undefined} a @param {any[]|undefined} b */
const alike = (a, b) => a !== undefined && b !== undefined && a.length === b.length && a.every((x, i) => x === b[i]);
