// Where the machine is at an instant of the drive, and the axes of a place.

/**
 * @typedef {object} Track   columns of equal length, in order of time
 * @property {number[]} t   s since the start
 * @property {number[]} east @property {number[]} north   m, of the tractor's turning point
 * @property {number[]} heading @property {number[]} toolHeading   rad, clockwise from north, without the jump there
 * @property {number[]} speed   m/s
 * @property {number[]} way   m driven until then
 *
 * @typedef {{east: number, north: number, heading: number}} Place
 */

/**
 * Returns the index of the last entry that is at most x, 0 before all.
 * @param {ArrayLike<number>} sorted
 * @param {number} x
 */
export function indexAt(sorted, x) {
  let lo = 0;
  let hi = sorted.length;
  while (hi - lo > 1) {
    const mid = (lo + hi) >> 1;
    if (sorted[mid] <= x) lo = mid;
    else hi = mid;
  }
  return lo;
}

/**
 * Returns the column y at x by straight lines between entries, held beyond
 * both ends.
 * @param {ArrayLike<number>} xs
 * @param {ArrayLike<number>} ys
 * @param {number} x
 */
export function between(xs, ys, x) {
  const i = indexAt(xs, x);
  if (i + 1 >= xs.length || x <= xs[0]) return ys[i];
  const span = xs[i + 1] - xs[i];
  return span > 0 ? ys[i] + ((ys[i + 1] - ys[i]) * (x - xs[i])) / span : ys[i + 1];
}

/**
 * Returns the point that lies so far ahead of and right of a place.
 * @param {Place} p
 * @param {number} aheadM @param {number} rightM
 * @returns {[number, number]} east, north
 */
export function offset(p, aheadM, rightM) {
  const s = Math.sin(p.heading);
  const c = Math.cos(p.heading);
  return [p.east + aheadM * s + rightM * c, p.north + aheadM * c - rightM * s];
}

/**
 * Returns a point in the axes of a place.
 * @param {Place} p
 * @param {number} east @param {number} north
 * @returns {[number, number]} ahead, right
 */
export function seenFrom(p, east, north) {
  const s = Math.sin(p.heading);
  const c = Math.cos(p.heading);
  const de = east - p.east;
  const dn = north - p.north;
  return [de * s + dn * c, de * c - dn * s];
}

/**
 * Returns bearings without the jump at north, so that they can be averaged.
 * @param {number[]} rad
 */
export function unwrap(rad) {
  const out = rad.slice();
  for (let i = 1; i < out.length; i++) out[i] -= 2 * Math.PI * Math.round((out[i] - out[i - 1]) / (2 * Math.PI));
  return out;
}
