// Place error over speed, for lifts and for drops, with the line
// e = Δx + v·Δt: its slope is an error of timing, its start one of geometry.

import { el, num } from "./node.js";
import { linear, ticks, decimalsOf } from "./scale.js";
import { triangle } from "./mark.js";
import { FONT, SMALL, textWidth } from "./legend.js";
import { fixed, signed } from "./format.js";

/** @typedef {import("./node.js").Node} Node */
/** @typedef {import("./drive.js").Fit} Fit */

const LEFT = 44;
const HEIGHT = 200;

/**
 * @typedef {{speed: number, placeM: number, section: number}} Point   speed in m/s
 * @param {object} o
 * @param {{lift: Point[], drop: Point[]}} o.points
 * @param {{lift: Fit|null, drop: Fit|null}} o.fit
 * @param {number} o.width px
 * @param {import("./palette.js").Palette} o.palette
 * @returns {Node}
 */
export function drawScatter({ points, fit, width, palette: p }) {
  const beside = width >= 620;
  const each = beside ? (width - 16) / 2 : width;
  const all = [...points.lift, ...points.drop];
  const speeds = all.map((q) => q.speed * 3.6);
  const errors = all.map((q) => q.placeM * 100);
  const vMax = Math.max(1, ...speeds) * 1.08;
  const [e0, e1] = [Math.min(-2, ...errors), Math.max(2, ...errors)];
  const pad = (e1 - e0) * 0.1;
  const box = { vMax, e0: e0 - pad, e1: e1 + pad, width: each };
  const lift = panel("Lift", false, points.lift, fit.lift, box, p);
  const drop = panel("Drop", true, points.drop, fit.drop, box, p);
  const height = beside ? HEIGHT + 62 : 2 * (HEIGHT + 62);
  return el("svg", { width, height, viewBox: `0 0 ${width} ${height}` },
    el("rect", { x: 0, y: 0, width, height, fill: p.ground }),
    el("g", {}, lift),
    el("g", { transform: beside ? `translate(${num(each + 16)} 0)` : `translate(0 ${HEIGHT + 62})` }, drop));
}

function panel(title, on, points, fit, { vMax, e0, e1, width }, p) {
  const x = linear(0, vMax, LEFT, width - 8);
  const y = linear(e0, e1, HEIGHT + 18, 24);
  const vs = ticks(0, vMax, Math.max(3, width / 70));
  const es = ticks(e0, e1, 6);
  const [vd, ed] = [decimalsOf(vs), decimalsOf(es)];
  const small = { ...SMALL, fill: p.quiet };
  const known = fit && fit.place_error_m !== null && fit.time_error_s !== null;
  const line = known
    ? [0, vMax].map((v) => `${num(x.at(v))} ${num(y.at((fit.place_error_m + (v / 3.6) * fit.time_error_s) * 100))}`)
    : null;
  // Hundreds of marks are two paths: late filled, early hollow.
  const outlines = (late) => points.filter((q) => q.placeM > 0 === late).map((q) => triangle(x.at(q.speed * 3.6), y.at(q.placeM * 100), on, 3.6)).join("");
  const id = `scatter-${on ? "drop" : "lift"}`;
  return [
    el("clipPath", { id }, el("rect", { x: LEFT, y: 24, width: num(width - 8 - LEFT), height: HEIGHT - 6 })),
    el("text", { x: 0, y: 13, fill: p.ink, ...FONT, "font-weight": 600 }, title),
    el("text", { x: textWidth(title) + 14, y: 13, ...small }, "place error, cm; positive = late"),
    es.map((e) => el("path", { d: `M${LEFT} ${num(y.at(e))}H${num(width - 8)}`, stroke: p.faint, "stroke-width": 1, fill: "none" })),
    el("path", { d: `M${LEFT} ${num(y.at(0))}H${num(width - 8)}`, stroke: p.ink, "stroke-width": 1, fill: "none" }),
    es.map((e) => el("text", { x: LEFT - 6, y: num(y.at(e) + 4), "text-anchor": "end", ...small }, signed(e, ed))),
    vs.map((v) => el("path", { d: `M${num(x.at(v))} ${HEIGHT + 18}v4`, stroke: p.quiet, fill: "none" })),
    vs.map((v, i) => el("text", { x: num(x.at(v)), y: HEIGHT + 34, "text-anchor": "middle", ...small }, fixed(v, vd) + (i === vs.length - 1 ? " km/h" : ""))),
    el("g", { "clip-path": `url(#${id})` },
      el("path", { d: outlines(true), fill: p.late, "fill-opacity": 0.7 }),
      el("path", { d: outlines(false), fill: p.ground, stroke: p.early, "stroke-width": 1.8 }),
      line && el("path", { d: `M${line[0]}L${line[1]}`, stroke: p.ground, "stroke-width": 4, fill: "none" }),
      line && el("path", { d: `M${line[0]}L${line[1]}`, stroke: p.ink, "stroke-width": 1.8, fill: "none" })),
    el("text", { x: 0, y: HEIGHT + 54, fill: p.ink, ...FONT }, fitText(fit, points)),
  ];
}

/**
 * Says the fit in figures, or why there is none.
 * @param {Fit|null} fit
 * @param {Point[]} points
 */
export function fitText(fit, points) {
  if (points.length === 0) return "no pair of ideal and actual to measure";
  if (fit && fit.place_error_m !== null && fit.time_error_s !== null) {
    return `e = ${signed(fit.place_error_m * 100, 1)} cm + v · ${signed(fit.time_error_s * 1000, 0)} ms`;
  }
  const kmh = points.map((q) => q.speed * 3.6);
  return `cannot tell: speeds within ${fixed(Math.max(...kmh) - Math.min(...kmh), 1)} km/h`;
}
