// The link that holds the whole page.

import test from "node:test";
import assert from "node:assert/strict";
import { readLink, writeLink, readValue, settingQuery } from "../page/link.js";

/** @type {import("../page/link.js").Control[]} */
const controls = [
  { key: "speed_kmh", label: "", what: "", kind: "number", min: 1, max: 20, default: 8 },
  { key: "lift_lead_ms", label: "", what: "", kind: "number-or-auto", min: 0, max: 3000, default: "auto" },
  { key: "edge_rule", label: "", what: "", kind: "word", words: ["crop-first", "weed-first", "even"], default: "even" },
  { key: "section_m", label: "", what: "", kind: "choice", choices: [0.5, 1, 6], default: 1 },
  { key: "flow_aware", label: "", what: "", kind: "switch", default: true },
];

test("what is written is read back", () => {
  const page = {
    setting: { speed_kmh: 12.5, lift_lead_ms: 0, flow_aware: false },
    pinned: { edge_rule: "crop-first" }, lesson: "late-lift", crossing: 3,
  };
  const { unknown, ...read } = readLink(writeLink(page, controls), controls);
  assert.deepEqual(read, page);
  assert.deepEqual(unknown, []);
});

test("an empty link is the default page; everything pinned at its default is still pinned", () => {
  assert.deepEqual(readLink("", controls), { setting: {}, pinned: null, lesson: null, crossing: null, unknown: [] });
  assert.deepEqual(readLink(writeLink({ setting: {}, pinned: {}, lesson: null, crossing: null }, controls), controls).pinned, {});
});

test("the setting is in the order of the controls, the version first", () => {
  assert.equal(settingQuery({ flow_aware: false, speed_kmh: 12 }, controls), "v=1&speed_kmh=12&flow_aware=false");
});

test("a value at its default is no change", () => {
  assert.deepEqual(readLink("#v=1&speed_kmh=8&flow_aware=true", controls).setting, {});
});

test("what cannot be used is named, the rest is used", () => {
  const r = readLink("#v=1&speed_kmh=99&edge_rule=none&colour=red&section_m=0.5", controls);
  assert.deepEqual(r.unknown, ["speed_kmh", "edge_rule", "colour"]);
  assert.deepEqual(r.setting, { section_m: 0.5 });
});

test("no text is taken for a number that it is not", () => {
  for (const text of ["", " ", "abc", "Infinity", "NaN", "1e999", "0.5", "21"]) assert.equal(readValue(controls[0], text), undefined, text);
  assert.equal(readValue(controls[0], "7.5"), 7.5);
  assert.equal(readValue(controls[1], "auto"), "auto");
  assert.equal(readValue(controls[3], "2"), undefined);
});
