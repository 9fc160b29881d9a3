// The plan's figure: panning, zooming and picking by pointer and by key.

import { Frame } from "./frame.js";
import { drawPlan, planCursor } from "./draw-plan.js";
import { fit, pan, zoom, toPlane, sees } from "./view.js";
import { nearestOnPlane } from "./crossing-list.js";
import { h } from "./html.js";
import { rounded } from "./grid.js";

/** @typedef {import("./drive.js").Drive} Drive */

const PAN_PX = 60;
const ZOOM = 1.5;
const PICK_PX = 24;

export class Plan {
  /** @param {HTMLElement} host @param {(crossing: number) => void} picked */
  constructor(host, picked) {
    this.picked = picked;
    /** @type {Drive|null} */
    this.drive = null;
    /** @type {import("./view.js").View|null} */
    this.view = null;
    this.crossing = null;
    this.t = 0;
    const button = (text, label, act) => h("button", { type: "button", "aria-label": label, onclick: act }, text);
    this.frame = new Frame(host, {
      name: "plan", title: "Plan, north up",
      tools: [
        button("+", "Enlarge the plan", () => this.move(zoom(this.sized(), ZOOM))),
        button("−", "Reduce the plan", () => this.move(zoom(this.sized(), 1 / ZOOM))),
        button("Field", "Show the whole field", () => this.whole()),
        button("Crossing", "Show the picked crossing", () => this.nearer()),
      ],
      stage: {
        class: "stage plan-stage", tabindex: "0", role: "group",
        "aria-label": "Plan: arrow keys move it, plus and minus enlarge and reduce, 0 shows the field, Enter picks the crossing nearest to the middle",
      },
    });
    this.listen(this.frame.stage);
  }

  /** @param {Drive} drive @param {number|null} crossing @param {number} t */
  show(drive, crossing, t) {
    const moved = !this.drive || String(this.drive.bounds) !== String(drive.bounds);
    const c = crossing !== this.crossing ? drive.crossings[crossing ?? -1] : null;
    this.drive = drive;
    this.crossing = crossing;
    this.t = t;
    if (moved) this.view = null;
    // A crossing that is picked elsewhere is not left out of sight.
    else if (c && this.view && !sees(this.view, c.east, c.north)) this.view = { ...this.view, east: c.east, north: c.north };
    this.render();
  }

  get height() {
    return Math.round(Math.min(Math.max(this.frame.width * 0.8, 260), 470));
  }

  /** The view at the size there is. */
  sized() {
    const width = this.frame.width;
    const height = this.height;
    if (!this.view) this.view = fit(this.drive?.bounds ?? [0, 0, 1, 1], width, height);
    if (this.view.width !== width || this.view.height !== height) this.view = { ...this.view, width, height };
    return this.view;
  }

  move(view) {
    this.view = view;
    this.render();
  }

  whole() {
    this.view = null;
    this.render();
  }

  nearer() {
    const c = this.drive?.crossings[this.crossing ?? -1];
    if (c) this.move({ ...this.sized(), east: c.east, north: c.north, pxPerM: this.frame.width / 16 });
  }

  render() {
    const drive = this.drive;
    if (!drive) return;
    const { crossing, t } = this;
    this.frame.show({
      of: [drive, this.view, crossing],
      draw: (_width, palette) => drawPlan({ drive, view: this.sized(), palette, picked: crossing }),
      cursor: (_width, palette) => planCursor(drive, this.sized(), palette, t),
      alt: altOf(drive),
      grid: () => gridOf(drive),
    });
  }

  /** @param {HTMLElement} stage */
  listen(stage) {
    /** @type {Map<number, {x: number, y: number}>} */
    const down = new Map();
    let moved = 0;
    const at = (e) => {
      const r = stage.getBoundingClientRect();
      return { x: e.clientX - r.left, y: e.clientY - r.top };
    };
    stage.addEventListener("pointerdown", (e) => {
      if (e.button !== 0) return;
      down.set(e.pointerId, at(e));
      stage.setPointerCapture(e.pointerId);
      if (down.size === 1) moved = 0;
    });
    stage.addEventListener("pointermove", (e) => {
      const from = down.get(e.pointerId);
      if (!from) return;
      const to = at(e);
      const others = [...down].filter(([id]) => id !== e.pointerId).map(([, p]) => p);
      if (others.length === 0) {
        moved += Math.hypot(to.x - from.x, to.y - from.y);
        if (moved > 4) this.move(pan(this.sized(), to.x - from.x, to.y - from.y));
      } else {
        const o = others[0];
        const before = Math.hypot(from.x - o.x, from.y - o.y);
        const after = Math.hypot(to.x - o.x, to.y - o.y);
        moved = Infinity;
        if (before > 10) this.move(zoom(this.sized(), after / before, o.x, o.y));
      }
      down.set(e.pointerId, to);
    });
    stage.addEventListener("pointerup", (e) => {
      const from = down.get(e.pointerId);
      down.delete(e.pointerId);
      if (from && moved <= 4) this.pick(from.x, from.y, PICK_PX);
    });
    stage.addEventListener("pointercancel", (e) => down.delete(e.pointerId));
    stage.addEventListener("wheel", (e) => {
      // A page must stay scrollable over the plan: the wheel zooms only there
      // where the plan has been chosen.
      if (!e.ctrlKey && document.activeElement !== stage) return;
      e.preventDefault();
      const p = at(e);
      this.move(zoom(this.sized(), Math.exp(-e.deltaY * 0.0015), p.x, p.y));
    }, { passive: false });
    stage.addEventListener("keydown", (e) => {
      const v = this.sized();
      const acts = {
        ArrowLeft: () => this.move(pan(v, PAN_PX, 0)), ArrowRight: () => this.move(pan(v, -PAN_PX, 0)),
        ArrowUp: () => this.move(pan(v, 0, PAN_PX)), ArrowDown: () => this.move(pan(v, 0, -PAN_PX)),
        "+": () => this.move(zoom(v, ZOOM)), "=": () => this.move(zoom(v, ZOOM)),
        "-": () => this.move(zoom(v, 1 / ZOOM)), 0: () => this.whole(),
        Enter: () => this.pick(v.width / 2, v.height / 2, Infinity),
      };
      const act = e.ctrlKey || e.altKey || e.metaKey ? undefined : acts[e.key];
      if (!act) return;
      e.preventDefault();
      act();
    });
  }

  pick(x, y, withinPx) {
    const v = this.sized();
    if (!this.drive || y > v.height) return;
    const [east, north] = toPlane(v, x, y);
    const i = nearestOnPlane(this.drive.crossings, east, north, withinPx / v.pxPerM);
    if (i >= 0) this.picked(i);
  }
}

/** @param {Drive} drive */
function altOf(drive) {
  const a = drive.summary?.area_m2;
  const areas = a ? ` Worked ${a.worked.toFixed(0)} m², overrun ${a.overrun.toFixed(1)} m², miss ${a.miss.toFixed(1)} m².` : "";
  const zones = drive.zones.map((z) => `${z.name || "unnamed"} (${z.kind})`).join(", ");
  return `Plan of ${drive.title}. Zones: ${zones}. ${drive.crossings.length} crossings.${areas}`;
}

/** @param {Drive} drive */
function gridOf(drive) {
  return {
    columns: ["section", "ground", "from s", "until s", "area m²"],
    rows: drive.strips.map((s) => [s.section + 1, s.ground.replace("_", " "), s.from, s.until, rounded(areaOf(s.ring), 3)]),
  };
}

/** @param {import("./drive.js").Ring} ring */
function areaOf(ring) {
  let twice = 0;
  for (let i = 1; i < ring.length; i++) twice += ring[i - 1][0] * ring[i][1] - ring[i][0] * ring[i - 1][1];
  return Math.abs(twice) / 2;
}
