// The figures behind a drawing as a grid of cells: shown as a table for who
// cannot see the drawing, and written as CSV (RFC 4180).

/**
 * @typedef {object} Grid
 * @property {string[]} columns   headings, with the unit
 * @property {(string|number|null)[][]} rows   null = does not exist
 */

/** @param {Grid} grid */
export function toCsv({ columns, rows }) {
  return [columns, ...rows].map((r) => r.map(cell).join(",")).join("\r\n") + "\r\n";
}

/** @param {string|number|null} v */
function cell(v) {
  if (v === null || (typeof v === "number" && !Number.isFinite(v))) return "";
  const s = String(v);
  return /[",\r\n]/.test(s) ? `"${s.replaceAll('"', '""')}"` : s;
}

/** A table in the page holds at most so many rows; the CSV holds all. */
const MOST_ROWS = 400;

/**
 * @param {Grid} grid
 * @param {string} caption
 * @returns {HTMLTableElement}
 */
export function toTable({ columns, rows }, caption) {
  const table = document.createElement("table");
  const cut = rows.length > MOST_ROWS;
  table.createCaption().textContent = cut ? `${caption} (the first ${MOST_ROWS} of ${rows.length} lines; all are in the CSV)` : caption;
  const head = table.createTHead().insertRow();
  for (const c of columns) {
    const th = document.createElement("th");
    th.scope = "col";
    th.textContent = c;
    head.append(th);
  }
  const body = table.createTBody();
  for (const r of rows.slice(0, MOST_ROWS)) {
    const tr = body.insertRow();
    for (const v of r) {
      const td = tr.insertCell();
      td.textContent = v === null ? "–" : String(v);
      if (typeof v === "number") td.className = "number";
    }
  }
  return table;
}

/**
 * Rounds for a table: so many decimals, null stays null.
 * @param {number|null} x @param {number} decimals
 */
export function rounded(x, decimals) {
  if (x === null || !Number.isFinite(x)) return null;
  const y = Number(x.toFixed(decimals));
  return y === 0 ? 0 : y;
}
