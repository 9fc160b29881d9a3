// A row of swatches with their names, broken into lines by the width there is.

import { el, num } from "./node.js";

/** @typedef {import("./node.js").Node} Node */

/** Text is set in this face and size in every figure. */
export const FONT = { "font-family": "system-ui, 'DejaVu Sans', sans-serif", "font-size": 12 };

/** Smaller, for axes. */
export const SMALL = { ...FONT, "font-size": 11 };

/** About how wide text of the figures' size is; a little too much rather than too little. */
export const textWidth = (/** @type {string} */ s, size = 12) => s.length * size * 0.6;

const SWATCH = 18;
const LINE = 18;

/**
 * @param {{swatch: Node[], text: string}[]} items   swatches drawn in a box of 18 by 12
 * @param {number} width
 * @param {string} ink
 * @returns {{node: Node, height: number}}
 */
export function legend(items, width, ink) {
  let x = 0;
  let y = 0;
  const placed = items.map(({ swatch, text }) => {
    const w = SWATCH + 6 + textWidth(text) + 14;
    if (x > 0 && x + w - 14 > width) {
      x = 0;
      y += LINE;
    }
    const g = el("g", { transform: `translate(${num(x)} ${y})` }, swatch,
      el("text", { x: SWATCH + 6, y: 10, fill: ink, ...FONT }, text));
    x += w;
    return g;
  });
  return { node: el("g", {}, placed), height: y + LINE };
}

/** @param {Record<string, any>} attrs */
export const box = (attrs) => el("rect", { x: 0.5, y: 0.5, width: SWATCH - 1, height: 11, ...attrs });

/** @param {Record<string, any>} attrs */
export const stroke = (attrs) => el("path", { d: `M0 6H${SWATCH}`, fill: "none", ...attrs });
