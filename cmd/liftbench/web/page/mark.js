// The marks of a lift and a drop: shape says which, filling says how late.

import { el, num } from "./node.js";

/** @typedef {import("./node.js").Node} Node */
/** @typedef {import("./palette.js").Palette} Palette */

/** Place errors up to this count as on time, m: the same as in the reports, see TestOneTolerance. */
export const ON_TIME_M = 0.03;

/** @param {number|null} placeM @returns {"late"|"early"|"on time"|"lost"} */
export function judged(placeM) {
  if (placeM === null) return "lost";
  if (Math.abs(placeM) <= ON_TIME_M) return "on time";
  return placeM > 0 ? "late" : "early";
}

/**
 * The outline of a triangle that points up for a lift, down for a drop.
 * @param {number} x @param {number} y @param {boolean} on @param {number} r px
 */
export function triangle(x, y, on, r) {
  const s = on ? 1 : -1;
  return `M${num(x - r, 1)} ${num(y - s * r * 0.7, 1)}h${num(2 * r, 1)}L${num(x, 1)} ${num(y + s * r, 1)}Z`;
}

/**
 * A triangle that points up for a lift, down for a drop: filled when late, hollow
 * when early, with a dot when on time; a cross when it has no partner.
 * @param {number} x @param {number} y
 * @param {boolean} on   drop
 * @param {"late"|"early"|"on time"|"lost"} how
 * @param {Palette} p
 * @param {number} [r] px
 * @returns {Node}
 */
export function mark(x, y, on, how, p, r = 6) {
  const at = { transform: `translate(${num(x)} ${num(y)})` };
  if (how === "lost") {
    return el("g", at,
      el("path", { d: `M${-r} ${-r}L${r} ${r}M${-r} ${r}L${r} ${-r}`, stroke: p.ground, "stroke-width": 5, fill: "none" }),
      el("path", { d: `M${-r} ${-r}L${r} ${r}M${-r} ${r}L${r} ${-r}`, stroke: p.ink, "stroke-width": 2.2, fill: "none" }));
  }
  const s = on ? 1 : -1;
  const d = triangle(0, 0, on, r);
  if (how === "late") return el("g", at, el("path", { d, fill: p.late, stroke: p.ink, "stroke-width": 1, "stroke-linejoin": "round" }));
  if (how === "early") {
    return el("g", at,
      el("path", { d, fill: p.ground, stroke: p.ink, "stroke-width": 3, "stroke-linejoin": "round" }),
      el("path", { d, fill: p.ground, stroke: p.early, "stroke-width": 1.7, "stroke-linejoin": "round" }));
  }
  return el("g", at,
    el("path", { d, fill: p.ground, stroke: p.ink, "stroke-width": 1.2, "stroke-linejoin": "round" }),
    el("circle", { cx: 0, cy: num(-s * r * 0.1), r: num(r * 0.25), fill: p.ink }));
}

/**
 * A diamond: where the command took effect at the valve.
 * @param {number} x @param {number} y @param {Palette} p
 */
export const diamond = (x, y, p, r = 5) =>
  el("path", {
    d: `M${num(x - r)} ${num(y)}L${num(x)} ${num(y - r)}L${num(x + r)} ${num(y)}L${num(x)} ${num(y + r)}Z`,
    fill: p.ground, stroke: p.ink, "stroke-width": 1.5,
  });
