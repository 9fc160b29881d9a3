// The strip chart: for every section, over time or distance, what was
// commanded, how high the tool was, and where it was in work.

import { el, num } from "./node.js";
import { linear, ticks, decimalsOf } from "./scale.js";
import { legend, box, stroke, FONT, SMALL } from "./legend.js";
import { between, indexAt } from "./track.js";
import { clock, fixed } from "./format.js";
import { mark, judged } from "./mark.js";

/** @typedef {import("./node.js").Node} Node */
/** @typedef {import("./drive.js").Drive} Drive */

const LEFT = 30;
const RIGHT = 24;

/**
 * @param {object} o
 * @param {Drive} o.drive
 * @param {number} o.width px
 * @param {import("./palette.js").Palette} o.palette
 * @param {"time"|"distance"} o.over
 * @param {[number, number]} o.window   s, what is seen
 * @returns {Node}
 */
export function drawStrip(o) {
  const { drive, width, palette: p, over, window: [from, until] } = o;
  const { inner, place, x, row, top, bottom } = layout(o);
  const X = (s) => num(x.at(place(s)), 1);
  const h = linear(-drive.depth.working, drive.depth.raised, row - 5, 8);
  const rows = drive.sections.map((_, i) => {
    const y = top + i * row;
    const ground = num(h.at(0), 1);
    const work = spans(drive.work[i], from, until, drive.duration);
    const set = spans(drive.setpoints[i], from, until, drive.duration);
    return el("g", { transform: `translate(0 ${y})` },
      el("rect", { x: 0, y: 1, width: inner, height: row - 4, fill: p.raised, "fill-opacity": 0.22 }),
      work.map(([a, b]) => el("rect", { x: X(a), y: 1, width: wide(x, place, a, b), height: row - 4, fill: p.inWork, "fill-opacity": 0.5 })),
      el("path", { d: `M0 ${ground}H${inner}`, stroke: p.quiet, "stroke-width": 0.6, "stroke-dasharray": "2 3", fill: "none" }),
      set.map(([a, b]) => el("rect", { x: X(a), y: 1, width: wide(x, place, a, b), height: 3.5, fill: p.ink })),
      drive.height[i] && el("path", { d: heightPath(drive.height[i], from, until, X, h), stroke: p.ink, "stroke-width": 1.3, fill: "none" }),
      eventsOf(drive, i, from, until).length * 14 < inner
        ? eventsOf(drive, i, from, until).map((e) => mark(x.at(place(e.t)), h.at(0), e.on, e.match === "paired" ? judged(e.placeM) : "lost", p, 4.5))
        : null);
  });
  const [d0, d1] = x.domain;
  const axis = ticks(d0, d1, Math.max(2, inner / 80));
  const decimals = decimalsOf(axis);
  const write = over === "time" ? (v) => clock(v, decimals) : (v) => fixed(v, decimals);
  const unit = over === "distance" ? " m" : "";
  const key = legend([
    { swatch: [box({ fill: p.inWork, "fill-opacity": 0.5 })], text: `in work (${drive.simulated ? "simulated" : "recorded"})` },
    { swatch: [box({ fill: p.raised, "fill-opacity": 0.22, stroke: p.quiet })], text: "raised" },
    { swatch: [el("rect", { x: 0, y: 4, width: 18, height: 3.5, fill: p.ink })], text: "setpoint: in work" },
    ...(drive.height.length > 0 ? [{ swatch: [stroke({ stroke: p.ink, "stroke-width": 1.3 })], text: "tool height (simulated)" }] : []),
    { swatch: [stroke({ stroke: p.quiet, "stroke-width": 0.8, "stroke-dasharray": "2 3" })], text: "ground" },
    { swatch: [el("path", { d: "M9 -1V13", stroke: p.ink, "stroke-width": 1.6, "stroke-dasharray": "4 2", fill: "none" }), el("path", { d: "M5 -1H13L9 4Z", fill: p.ink })], text: "cursor" },
  ], width, p.ink);
  const height = bottom + 24 + key.height + 4;
  return el("svg", { width, height, viewBox: `0 0 ${width} ${height}` },
    el("defs", {}, el("clipPath", { id: "strip-window" }, el("rect", { x: 0, y: 0, width: inner, height: bottom }))),
    el("rect", { x: 0, y: 0, width, height, fill: p.ground }),
    el("g", { transform: `translate(${LEFT} 0)` },
      axis.map((v) => el("path", { d: `M${num(x.at(v))} ${top}V${bottom + 4}`, stroke: p.faint, fill: "none" })),
      el("g", { "clip-path": "url(#strip-window)" }, rows),
      axis.map((v, i) => el("text", { x: num(x.at(v)), y: bottom + 16, "text-anchor": "middle", fill: p.quiet, ...SMALL },
        write(v) + (i === axis.length - 1 ? unit : "")))),
    drive.sections.map((_, i) => el("text", { x: LEFT - 8, y: top + i * row + row / 2 + 3, "text-anchor": "end", fill: p.ink, ...FONT }, String(i + 1))),
    el("g", { transform: `translate(0 ${bottom + 28})` }, key.node));
}

/**
 * The cursor over a strip chart.
 * @param {Parameters<typeof drawStrip>[0]} o
 * @param {number} t s; outside of the window there is nothing
 * @returns {Node|null}
 */
export function stripCursor(o, t) {
  const { inner, place, x, top, bottom } = layout(o);
  const at = x.at(place(t));
  if (at < -0.5 || at > inner + 0.5) return null;
  const d = `M${num(at)} ${top}V${bottom}`;
  return el("g", { transform: `translate(${LEFT} 0)` },
    el("path", { d, stroke: o.palette.ground, "stroke-width": 4, fill: "none", "stroke-opacity": 0.7 }),
    el("path", { d, stroke: o.palette.ink, "stroke-width": 1.6, "stroke-dasharray": "4 2", fill: "none" }),
    el("path", { d: `M${num(at - 5)} 0H${num(at + 5)}L${num(at)} 6Z`, fill: o.palette.ink }));
}

/** @param {Parameters<typeof drawStrip>[0]} o */
function layout({ drive, width, over, window: [from, until] }) {
  const inner = width - LEFT - RIGHT;
  const place = over === "time" ? (s) => s : (s) => between(drive.track.t, drive.track.way, s);
  const count = drive.sections.length;
  const row = count > 12 ? 22 : count > 6 ? 28 : count > 3 ? 36 : 46;
  const top = 4;
  return { inner, place, x: linear(place(from), place(until), 0, inner), row, top, bottom: top + count * row };
}

/** What part of a strip chart's width its figures take. */
export const plotArea = (/** @type {number} */ width) => ({ left: LEFT, width: width - LEFT - RIGHT });

/**
 * Returns the spans of time in which a step function is on, within a window.
 * @param {import("./drive.js").Steps} steps
 * @returns {[number, number][]}
 */
export function spans(steps, from, until, end) {
  /** @type {[number, number][]} */
  const out = [];
  let since = null;
  for (let i = 0; i <= steps.t.length; i++) {
    const t = i < steps.t.length ? steps.t[i] : end;
    const on = i < steps.t.length && steps.on[i];
    if (on && since === null) since = t;
    if (!on && since !== null) {
      const [a, b] = [Math.max(since, from), Math.min(t, until)];
      if (b > a) out.push([a, b]);
      since = null;
    }
  }
  return out;
}

function wide(x, place, a, b) {
  return num(Math.max(0.5, x.at(place(b)) - x.at(place(a))), 1);
}

function heightPath({ t, h }, from, until, X, scale) {
  if (t.length === 0) return undefined;
  const i0 = indexAt(t, from);
  const parts = [`${X(from)} ${num(scale.at(between(t, h, from)), 1)}`];
  for (let i = i0; i < t.length && t[i] < until; i++) if (t[i] > from) parts.push(`${X(t[i])} ${num(scale.at(h[i]), 1)}`);
  parts.push(`${X(until)} ${num(scale.at(between(t, h, until)), 1)}`);
  return "M" + parts.join("L");
}

function eventsOf(drive, section, from, until) {
  return drive.events.filter((e) => e.section === section && e.match !== "start" && e.t >= from && e.t <= until);
}
