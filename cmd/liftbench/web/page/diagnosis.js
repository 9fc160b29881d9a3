// What a recorded drive shows to be wrong: causes with their size and the
// setting to change, and what the data cannot tell apart.

import { h } from "./html.js";
import { fixed, signed, withUnit } from "./format.js";

/** @param {number|null} x @param {string} unit   SI, as in diagnosis.json @returns {string} in what users read */
export function sizeText(x, unit) {
  if (x === null) return "at no size";
  if (/^s\b/.test(unit)) return withUnit(signed(x * 1000, 0), "m" + unit);
  if (/^m\b/.test(unit)) return withUnit(signed(x * 100, 1), "c" + unit);
  if (unit === "share" || unit === "") return withUnit(fixed(x * 100, 0), "%");
  return withUnit(signed(x, 3), unit);
}

/** @param {any} c   a cause of diagnosis.json */
function headOf(c) {
  const of = [c.section ? `section ${c.section}` : "", c.move ?? ""].filter(Boolean).join(", ");
  return `${c.cause}${of ? ` (${of})` : ""}: ${sizeText(c.size, c.unit)}`;
}

/** @param {HTMLElement} host @param {any} d   diagnosis.json, or null */
export function showDiagnosis(host, d) {
  host.hidden = d === null;
  if (d === null) return;
  const kids = [h("h2", { id: "diagnosis-title" }, "Diagnosis of the drive")];
  if (d.causes.length === 0) kids.push(h("p", {}, "Nothing wrong that these crossings could show."));
  else {
    kids.push(h("ol", {}, d.causes.map((c) => h("li", {},
      h("strong", {}, headOf(c)), ". ", c.evidence, " ", h("span", { class: "change" }, "To change: ", c.change)))));
  }
  if (d.cannot_tell.length) {
    kids.push(h("h3", {}, "Cannot tell"), h("ul", {}, d.cannot_tell.map((q) => h("li", {}, h("strong", {}, q.between.join(" or ")), ". ", q.why, " ", q.drive))));
  }
  const floors = d.floors ?? [];
  if (floors.length) {
    kids.push(h("details", {}, h("summary", {}, "What would have been seen"),
      h("ul", {}, floors.map((f) => h("li", {}, `${f.cause}${f.move ? ` (${f.move})` : ""}: from ${sizeText(f.size, f.unit)}`)))));
  }
  host.replaceChildren(...kids);
}
