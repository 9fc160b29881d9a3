// From figures to pixels: linear scales, round steps for their ticks, and the
// length of a scale bar.

/**
 * @typedef {object} Scale
 * @property {(x: number) => number} at   pixel of a figure
 * @property {[number, number]} domain
 */

/**
 * Returns the scale that takes d0..d1 to r0..r1. A domain of no extent is
 * widened by one half on each side.
 * @param {number} d0 @param {number} d1 @param {number} r0 @param {number} r1
 * @returns {Scale}
 */
export function linear(d0, d1, r0, r1) {
  if (d0 === d1) {
    d0 -= 0.5;
    d1 += 0.5;
  }
  const k = (r1 - r0) / (d1 - d0);
  return {
    at: (x) => r0 + (x - d0) * k,
    domain: [d0, d1],
  };
}

/**
 * Returns the largest of 1, 2, 5 times a power of ten that is at most x.
 * @param {number} x above 0
 */
export function roundDown(x) {
  const power = 10 ** Math.floor(Math.log10(x) + 1e-9);
  const m = x / power;
  const digit = m >= 5 - 1e-9 ? 5 : m >= 2 - 1e-9 ? 2 : 1;
  return digit * power;
}

/**
 * Returns the smallest of 1, 2, 5 times a power of ten that is at least x.
 * @param {number} x above 0
 */
export function roundUp(x) {
  const down = roundDown(x);
  if (down >= x * (1 - 1e-9)) return down;
  const lead = Math.round(down / 10 ** Math.floor(Math.log10(down) + 1e-9));
  return lead === 2 ? down * 2.5 : down * 2;
}

/**
 * Returns round figures within d0..d1, at most so many.
 * @param {number} d0 @param {number} d1 @param {number} most
 * @returns {number[]}
 */
export function ticks(d0, d1, most) {
  if (!(d1 > d0) || most < 1) return [];
  const step = roundUp((d1 - d0) / most);
  const out = [];
  for (let i = Math.ceil(d0 / step - 1e-9); i * step <= d1 + step * 1e-9; i++) out.push(i * step);
  return out;
}

/**
 * Returns the decimals with which ticks of that step differ.
 * @param {number[]} list
 */
export function decimalsOf(list) {
  if (list.length < 2) return 0;
  return Math.max(0, -Math.floor(Math.log10(Math.abs(list[1] - list[0])) + 1e-9));
}

/**
 * Returns the round length in metres that fills most of so many pixels.
 * @param {number} pxPerM @param {number} mostPx
 */
export const barLength = (pxPerM, mostPx) => roundDown(mostPx / pxPerM);

/**
 * Writes a length as a scale bar says it.
 * @param {number} m
 */
export function lengthText(m) {
  if (m < 0.995) return `${Math.round(m * 1000) / 10} cm`;
  if (m < 1000) return `${Math.round(m * 100) / 100} m`;
  return `${Math.round(m) / 1000} km`;
}
