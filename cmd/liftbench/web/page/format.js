// How figures are written: decimal point, a sign where direction matters, and
// the unit after a space at which no line breaks.

const MINUS = "\u2212";
const SPACE = "\u00a0";

/**
 * Writes x with so many decimals; a figure that does not exist is a dash.
 * @param {number|null|undefined} x
 * @param {number} decimals
 */
export function fixed(x, decimals) {
  if (x === null || x === undefined || !Number.isFinite(x)) return "–";
  const s = Math.abs(x).toFixed(decimals);
  return (x < 0 && Number(s) !== 0 ? MINUS : "") + s;
}

/**
 * Writes x with its sign, none for zero.
 * @param {number|null|undefined} x
 * @param {number} decimals
 */
export function signed(x, decimals) {
  const s = fixed(x, decimals);
  return s === "–" || s.startsWith(MINUS) || Number(s) === 0 ? s : "+" + s;
}

/** Writes a number of things by their name in the singular. @param {number} n @param {string} thing */
export const counted = (n, thing) => `${n} ${thing}${n === 1 ? "" : "s"}`;

/** @param {string} figure @param {string} unit */
export const withUnit = (figure, unit) => (unit ? figure + SPACE + unit : figure);

/**
 * Says an error in words: "4.1 cm late". On time is less than half of the last digit.
 * @param {number|null|undefined} x in the unit, positive = late
 * @param {number} decimals
 * @param {string} unit
 */
export function lateness(x, decimals, unit) {
  const s = fixed(x, decimals);
  if (s === "–") return s;
  if (Number(s.replace(MINUS, "-")) === 0) return "on time";
  return withUnit(s.replace(MINUS, ""), unit) + (/** @type {number} */ (x) > 0 ? " late" : " early");
}

/**
 * Writes seconds since the drive's start as minutes and seconds.
 * @param {number} s
 * @param {number} [decimals]
 */
export function clock(s, decimals = 0) {
  const scale = 10 ** decimals;
  const all = Math.round(Math.abs(s) * scale) / scale;
  const min = Math.floor(all / 60);
  const sec = (all - 60 * min).toFixed(decimals).padStart(decimals ? decimals + 3 : 2, "0");
  return `${s < 0 ? MINUS : ""}${min}:${sec}`;
}
