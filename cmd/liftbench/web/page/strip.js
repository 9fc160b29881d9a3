// The strip chart's figure: the cursor that the other figures share, and how
// much of the drive is seen.

import { Frame } from "./frame.js";
import { drawStrip, stripCursor, plotArea } from "./draw-strip.js";
import { between } from "./track.js";
import { onAt } from "./drive.js";
import { clock, counted } from "./format.js";
import { h } from "./html.js";
import { rounded } from "./grid.js";

/** @typedef {import("./drive.js").Drive} Drive */

const LEAST_S = 2;

export class Strip {
  /** @param {HTMLElement} host @param {(t: number) => void} moved */
  constructor(host, moved) {
    this.moved = moved;
    /** @type {Drive|null} */
    this.drive = null;
    this.t = 0;
    /** @type {"time"|"distance"} */
    this.over = "time";
    this.span = 60; // s seen
    this.middle = 0;
    const radio = (value, text) => h("label", { class: "choice" }, h("input", {
      type: "radio", name: "strip-over", value, checked: value === this.over,
      onchange: () => this.set({ over: value }),
    }), text);
    const length = (text, label, span) => h("button", { type: "button", "aria-label": label, onclick: () => this.set({ span }) }, text);
    this.frame = new Frame(host, {
      name: "strip", title: "Strip chart",
      tools: [
        h("span", { class: "choices", role: "group", "aria-label": "Strip chart over" }, radio("time", "time"), radio("distance", "distance")),
        length("All", "All: show the whole drive", Infinity), length("2 min", "2 min: show two minutes", 120),
        length("20 s", "20 s: show twenty seconds", 20), length("4 s", "4 s: show four seconds", 4),
      ],
      stage: { class: "stage strip-stage", tabindex: "0", role: "slider", "aria-label": "Cursor in time: arrow keys move it, plus and minus enlarge and reduce", "aria-valuemin": "0" },
    });
    this.listen(this.frame.stage);
  }

  /** @param {Drive} drive @param {number} t */
  show(drive, t) {
    this.drive = drive;
    this.place(t);
    this.render();
  }

  set(change) {
    Object.assign(this, change);
    this.span = Math.max(this.span, LEAST_S);
    this.middle = this.t;
    this.render();
  }

  /** Puts the window's middle. @param {number} t s */
  centre(t) {
    this.middle = t;
  }

  /** Puts the cursor, and moves the window when it would leave it. */
  place(t) {
    this.t = t;
    const [from, until] = this.window;
    if (t < from || t > until) this.middle = t;
  }

  /** @returns {[number, number]} */
  get window() {
    const end = this.drive?.duration ?? 1;
    const span = Math.min(this.span, end);
    const from = Math.min(Math.max(this.middle - span / 2, 0), end - span);
    return [from, from + span];
  }

  render() {
    const drive = this.drive;
    if (!drive) return;
    const { t, over, window } = this;
    const stage = this.frame.stage;
    stage.setAttribute("aria-valuemax", drive.duration.toFixed(2));
    stage.setAttribute("aria-valuenow", t.toFixed(2));
    const inWork = drive.work.flatMap((w, i) => (onAt(w, t) ? [i + 1] : []));
    const said = `${clock(t, 2)}, ${between(drive.track.t, drive.track.way, t).toFixed(2)} m; in work (${drive.simulated ? "simulated" : "recorded"}): ${inWork.length === 0 ? "none" : inWork.length === drive.sections.length ? "all sections" : "section " + inWork.join(", ")}`;
    stage.setAttribute("aria-valuetext", said);
    this.frame.say(`Cursor at ${said}.`);
    this.frame.show({
      of: [drive, over, ...window],
      draw: (width, palette) => drawStrip({ drive, width, palette, over, window }),
      cursor: (width, palette) => stripCursor({ drive, width, palette, over, window }, t),
      alt: `Strip chart of ${counted(drive.sections.length, "section")} over ${over}: setpoint, tool height and where in work, from ${clock(window[0])} to ${clock(window[1])}.`,
      grid: () => gridOf(drive),
    });
  }

  /** @param {HTMLElement} stage */
  listen(stage) {
    const take = (e) => {
      if (!this.drive) return;
      const r = stage.getBoundingClientRect();
      const area = plotArea(this.frame.width);
      const share = Math.min(Math.max((e.clientX - r.left - area.left) / area.width, 0), 1);
      const [from, until] = this.window;
      if (this.over === "time") return this.moved(from + share * (until - from));
      const { t, way } = this.drive.track;
      const [a, b] = [between(t, way, from), between(t, way, until)];
      this.moved(between(way, t, a + share * (b - a)));
    };
    stage.addEventListener("pointerdown", (e) => {
      if (e.button !== 0) return;
      stage.setPointerCapture(e.pointerId);
      take(e);
    });
    stage.addEventListener("pointermove", (e) => {
      if (stage.hasPointerCapture(e.pointerId)) take(e);
    });
    stage.addEventListener("wheel", (e) => {
      if (!e.ctrlKey && document.activeElement !== stage) return;
      e.preventDefault();
      this.zoom(Math.exp(e.deltaY * 0.0015));
    }, { passive: false });
    stage.addEventListener("keydown", (e) => {
      if (!this.drive || e.ctrlKey || e.altKey || e.metaKey) return;
      const span = Math.min(this.span, this.drive.duration);
      const step = { ArrowLeft: -span / 200, ArrowDown: -span / 200, ArrowRight: span / 200, ArrowUp: span / 200, PageDown: -span / 10, PageUp: span / 10, Home: -Infinity, End: Infinity }[e.key];
      if (step !== undefined) {
        e.preventDefault();
        this.moved(Math.min(Math.max(this.t + step, 0), this.drive.duration));
      } else if (e.key === "+" || e.key === "=") this.zoom(1 / 1.5);
      else if (e.key === "-") this.zoom(1.5);
    });
  }

  zoom(factor) {
    this.set({ span: Math.min(this.span, this.drive?.duration ?? 1) * factor });
  }
}

/** @param {Drive} drive */
function gridOf(drive) {
  const rows = [];
  drive.sections.forEach((_, i) => {
    drive.setpoints[i].t.forEach((t, k) => rows.push([i + 1, t, "setpoint", drive.setpoints[i].on[k] ? 1 : 0]));
    drive.work[i].t.forEach((t, k) => rows.push([i + 1, t, "in work", drive.work[i].on[k] ? 1 : 0]));
    drive.height[i]?.t.forEach((t, k) => rows.push([i + 1, t, "height above ground, cm", rounded(drive.height[i].h[k] * 100, 2)]));
  });
  rows.sort((a, b) => a[1] - b[1] || a[0] - b[0]);
  return { columns: ["section", "time s", "what", "value"], rows };
}
