// Hatches, so that kinds of ground differ without colour: each kind has an
// angle of its own, and what crosses rows is hatched both ways.

import { el } from "./node.js";

/**
 * @typedef {"overrun"|"across_rows"|"miss"|"keep_out"} Hatched
 * @typedef {import("./node.js").Node} Node
 * @typedef {import("./palette.js").Palette} Palette
 */

/** Angles of the lines, degrees from the horizontal, anticlockwise. */
export const angles = /** @type {Record<Hatched, number[]>} */ ({
  overrun: [45],
  across_rows: [45, -45],
  miss: [-45],
  keep_out: [0],
});

/**
 * Returns the pattern of a kind. Its lines keep their distance on the screen:
 * unit is how many user units make a pixel, and flip is -1 where y points up.
 * @param {string} id
 * @param {Hatched} kind
 * @param {Palette} palette
 * @param {{unit?: number, flip?: 1|-1}} [how]
 * @returns {Node}
 */
export function pattern(id, kind, palette, { unit = 1, flip = 1 } = {}) {
  const colour = { overrun: palette.late, across_rows: palette.late, miss: palette.miss, keep_out: palette.quiet }[kind];
  const gap = { overrun: 5, miss: 5, across_rows: 7, keep_out: 9 }[kind];
  const width = kind === "keep_out" ? 0.7 : 1.8;
  const lines = angles[kind].map((deg) =>
    el("path", { d: dashes(deg, gap), stroke: colour, "stroke-width": width, fill: "none", "stroke-linecap": "square" }));
  const tint = kind === "keep_out" ? null
    : el("rect", { width: gap, height: gap, fill: colour, "fill-opacity": 0.25 });
  return el("pattern", {
    id, width: gap, height: gap, patternUnits: "userSpaceOnUse",
    patternTransform: unit === 1 && flip === 1 ? undefined : `scale(${unit} ${flip * unit})`,
  }, tint, lines);
}

/**
 * Returns the lines of one tile, so that tiles join without a seam.
 * @param {number} deg 0, 45 or -45
 * @param {number} size
 */
function dashes(deg, size) {
  const s = size;
  if (deg === 0) return `M0 ${s / 2}H${s}`;
  if (deg > 0) return `M0 ${s}L${s} 0M${-s / 2} ${s / 2}L${s / 2} ${-s / 2}M${s / 2} ${1.5 * s}L${1.5 * s} ${s / 2}`;
  return `M0 0L${s} ${s}M${-s / 2} ${s / 2}L${s / 2} ${1.5 * s}M${s / 2} ${-s / 2}L${1.5 * s} ${s / 2}`;
}
