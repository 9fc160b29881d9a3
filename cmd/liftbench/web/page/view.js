// The plan's window: which part of the plane is seen, and how panning and
// zooming move it.

/**
 * @typedef {object} View
 * @property {number} east @property {number} north   plane at the window's middle, m
 * @property {number} pxPerM
 * @property {number} width @property {number} height   px
 */

/** @typedef {[number, number, number, number]} Bounds   west, south, east, north */

const PX_PER_M = { least: 0.02, most: 800 };

/**
 * Returns the view that shows all of the bounds with a margin around.
 * @param {Bounds} b
 * @param {number} width @param {number} height
 * @param {number} [marginPx]
 * @returns {View}
 */
export function fit([w, s, e, n], width, height, marginPx = 24) {
  const k = Math.min((width - 2 * marginPx) / Math.max(e - w, 1), (height - 2 * marginPx) / Math.max(n - s, 1));
  return { east: (w + e) / 2, north: (s + n) / 2, pxPerM: clamp(k), width, height };
}

/** @param {View} v @param {number} east @param {number} north @returns {[number, number]} px from the left, from the top */
export const toPx = (v, east, north) => [
  v.width / 2 + (east - v.east) * v.pxPerM,
  v.height / 2 - (north - v.north) * v.pxPerM,
];

/** @param {View} v @param {number} x @param {number} y @returns {[number, number]} east, north */
export const toPlane = (v, x, y) => [
  v.east + (x - v.width / 2) / v.pxPerM,
  v.north - (y - v.height / 2) / v.pxPerM,
];

/** Says whether a place of the plane lies in the window. @param {View} v @param {number} east @param {number} north */
export function sees(v, east, north) {
  const [x, y] = toPx(v, east, north);
  return x >= 0 && y >= 0 && x <= v.width && y <= v.height;
}

/**
 * Moves what is seen by so many pixels to the right and down.
 * @param {View} v @param {number} dx @param {number} dy
 * @returns {View}
 */
export const pan = (v, dx, dy) => ({ ...v, east: v.east - dx / v.pxPerM, north: v.north + dy / v.pxPerM });

/**
 * Enlarges about a pixel, which keeps its place on the plane.
 * @param {View} v @param {number} factor @param {number} x @param {number} y
 * @returns {View}
 */
export function zoom(v, factor, x = v.width / 2, y = v.height / 2) {
  const [east, north] = toPlane(v, x, y);
  const pxPerM = clamp(v.pxPerM * factor);
  return {
    ...v, pxPerM,
    east: east - (x - v.width / 2) / pxPerM,
    north: north + (y - v.height / 2) / pxPerM,
  };
}

/** @param {number} k */
const clamp = (k) => Math.min(Math.max(k, PX_PER_M.least), PX_PER_M.most);

/** @param {Iterable<[number, number]>} points @returns {Bounds} */
export function boundsOf(points) {
  /** @type {Bounds} */
  const b = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [e, n] of points) {
    b[0] = Math.min(b[0], e);
    b[1] = Math.min(b[1], n);
    b[2] = Math.max(b[2], e);
    b[3] = Math.max(b[3], n);
  }
  return b;
}
