// The figures of a drive in a few lines, and how two drives differ in them.

/**
 * @typedef {object} Line
 * @property {string} key
 * @property {string} label
 * @property {string} unit
 * @property {number} decimals
 * @property {boolean} signed   a direction matters: positive = late
 * @property {number|null} now
 * @property {number|null} pinned
 * @property {number|null} difference   now less pinned
 */

/** @type {{key: string, label: string, unit: string, decimals: number, signed?: boolean, of: (s: any) => number|null|undefined}[]} */
const lines = [
  ...["lift", "drop"].flatMap((move) => {
    const M = move === "lift" ? "Lift" : "Drop";
    return [
      { key: `${move} place mean`, label: `${M}, place error, mean`, unit: "cm", decimals: 1, signed: true, of: (s) => times(s[move].place_error_m?.mean, 100) },
      { key: `${move} place p95`, label: `${M}, place error, 95 % within`, unit: "cm", decimals: 1, of: (s) => times(s[move].place_error_m?.p95_abs, 100) },
      { key: `${move} time mean`, label: `${M}, time error, mean`, unit: "s", decimals: 3, signed: true, of: (s) => s[move].time_error_s?.mean },
    ];
  }),
  { key: "overrun", label: "Overrun", unit: "m²", decimals: 1, of: (s) => s.area_m2.overrun },
  { key: "across rows", label: "of it across rows", unit: "m²", decimals: 1, of: (s) => s.area_m2.across_rows },
  { key: "miss", label: "Miss", unit: "m²", decimals: 1, of: (s) => s.area_m2.miss },
  { key: "repeat", label: "Repeat", unit: "m²", decimals: 1, of: (s) => s.area_m2.repeat },
  { key: "worked", label: "Worked", unit: "m²", decimals: 0, of: (s) => s.area_m2.worked },
  { key: "missed", label: "Lifts and drops missed", unit: "", decimals: 0, of: (s) => s.lift.missed + s.drop.missed },
  { key: "spurious", label: "without need", unit: "", decimals: 0, of: (s) => s.lift.spurious + s.drop.spurious },
];

const times = (x, k) => (x === null || x === undefined ? null : x * k);

/**
 * Returns the lines of a summary beside a pinned one.
 * @param {any} now   summary of `run`
 * @param {any|null} pinned
 * @returns {Line[]}
 */
export function compare(now, pinned) {
  return lines.map(({ of, signed = false, ...line }) => {
    const a = of(now) ?? null;
    const b = pinned ? of(pinned) ?? null : null;
    return { ...line, signed, now: a, pinned: b, difference: a === null || b === null ? null : a - b };
  });
}
