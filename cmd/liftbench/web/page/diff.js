// The figures of a drive in a few lines, and how two drives differ in them.

/**
 * @typedef {object} Line
 * @property {string} key
 * @property {"Lift"|"Drop"|"Ground"} group
 * @property {string} label   within its group
 * @property {string} unit
 * @property {number} decimals
 * @property {boolean} signed   a direction matters: positive = late
 * @property {number|null} now
 * @property {number|null} pinned
 * @property {number|null} difference   now less pinned
 */

/** @type {(Pick<Line, "key"|"group"|"label"|"unit"|"decimals"> & {signed?: boolean, of: (s: any) => number|null|undefined})[]} */
const lines = [
  ...["lift", "drop"].flatMap((move) => {
    const group = /** @type {"Lift"|"Drop"} */ (move === "lift" ? "Lift" : "Drop");
    return [
      { group, key: `${move} place mean`, label: "place error, mean", unit: "cm", decimals: 1, signed: true, of: (s) => times(s[move].place_error_m?.mean, 100) },
      { group, key: `${move} place p95`, label: "95 % within", unit: "cm", decimals: 1, of: (s) => times(s[move].place_error_m?.p95_abs, 100) },
      { group, key: `${move} place worst`, label: "worst", unit: "cm", decimals: 1, of: (s) => times(s[move].place_error_m?.max_abs, 100) },
      { group, key: `${move} time mean`, label: "time error, mean", unit: "s", decimals: 3, signed: true, of: (s) => s[move].time_error_s?.mean },
      { group, key: `${move} missed`, label: `${move}s missed`, unit: "", decimals: 0, of: (s) => s[move].missed },
      { group, key: `${move} spurious`, label: `extra ${move}s`, unit: "", decimals: 0, of: (s) => s[move].spurious },
    ];
  }),
  ...[
    { key: "overrun", label: "overrun", decimals: 1, of: (s) => s.area_m2.overrun },
    { key: "across rows", label: "of it across rows", decimals: 1, of: (s) => s.area_m2.across_rows },
    { key: "miss", label: "miss", decimals: 1, of: (s) => s.area_m2.miss },
    { key: "repeat", label: "repeat", decimals: 1, of: (s) => s.area_m2.repeat },
    { key: "worked", label: "worked", decimals: 0, of: (s) => s.area_m2.worked },
    { key: "zone", label: "zones on the map", decimals: 0, of: (s) => s.area_m2.zone },
  ].map((l) => ({ ...l, group: /** @type {"Ground"} */ ("Ground"), unit: "m²" })),
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
