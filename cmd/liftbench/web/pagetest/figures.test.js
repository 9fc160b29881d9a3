// Figures as they are written, compared and saved.

import test from "node:test";
import assert from "node:assert/strict";
import { fixed, signed, lateness, clock, counted } from "../page/format.js";
import { compare } from "../page/diff.js";
import { toCsv, rounded } from "../page/grid.js";
import { anticlockwise, ringOf, onAt } from "../page/drive.js";
import { between, offset, seenFrom, unwrap } from "../page/track.js";
import { worst, nearestInTime, nearestOnPlane } from "../page/crossing-list.js";
import { sizeText } from "../page/diagnosis.js";
import { fitText } from "../page/draw-scatter.js";

test("figures have a decimal point, a true minus and a dash for none", () => {
  assert.equal(fixed(-1.25, 1), "−1.3");
  assert.equal(fixed(-0.04, 1), "0.0");
  assert.equal(fixed(null, 1), "–");
  assert.equal(signed(2, 1), "+2.0");
  assert.equal(signed(0.04, 1), "0.0");
  assert.equal(signed(NaN, 1), "–");
});

test("errors in words: positive is late", () => {
  assert.equal(lateness(4.12, 1, "cm"), "4.1\u00a0cm late");
  assert.equal(lateness(-4.12, 1, "cm"), "4.1\u00a0cm early");
  assert.equal(lateness(-0.02, 1, "cm"), "on time");
});

test("minutes and seconds carry over", () => {
  assert.equal(clock(59.96), "1:00");
  assert.equal(clock(59.996, 2), "1:00.00");
  assert.equal(clock(61.5, 1), "1:01.5");
});

const summary = (late, overrun) => ({
  lift: { time_error_s: { mean: late / 2 }, place_error_m: { mean: late, p95_abs: late }, missed: 0, spurious: 1 },
  drop: { time_error_s: null, place_error_m: null, missed: 2, spurious: 0 },
  area_m2: { overrun, across_rows: 0, miss: 1, repeat: 0, worked: 1000 },
});

test("two settings differ by now less pinned, in m² and cm", () => {
  const lines = compare(summary(0.2, 12), summary(0.05, 10));
  const of = (key) => lines.find((l) => l.key === key);
  assert.equal(of("overrun").difference, 2);
  assert.equal(of("overrun").unit, "m²");
  assert.ok(Math.abs(of("lift place mean").difference - 15) < 1e-9);
  assert.equal(of("lift place mean").unit, "cm");
  assert.equal(of("drop place mean").difference, null, "no figure, no difference");
  assert.equal(of("drop missed").now, 2);
  assert.equal(of("lift spurious").now, 1);
});

test("without a pinned setting there is no difference", () => {
  assert.ok(compare(summary(0.1, 1), null).every((l) => l.pinned === null && l.difference === null));
});

test("CSV quotes what needs it and leaves empty what does not exist", () => {
  assert.equal(toCsv({ columns: ["a", "b m²"], rows: [["x, \"y\"", null], [1.5, NaN]] }), 'a,b m²\r\n"x, ""y""",\r\n1.5,\r\n');
  assert.equal(rounded(-0.0001, 2), 0);
  assert.ok(!Object.is(rounded(-0.0001, 2), -0));
});

test("strips are the same way round", () => {
  const square = ringOf([0, 0, 0, 1000, 1000, 1000, 1000, 0, 0, 0]);
  const area = (r) => r.slice(1).reduce((a, p, i) => a + r[i][0] * p[1] - p[0] * r[i][1], 0) / 2;
  assert.equal(area(square), -1);
  assert.equal(area(anticlockwise(square)), 1);
});

test("a step function is off before its first step and holds after its last", () => {
  const s = { t: [1, 2], on: [true, false] };
  assert.deepEqual([0, 1, 1.5, 2, 9].map((t) => onAt(s, t)), [false, true, true, false, false]);
  assert.equal(onAt({ t: [], on: [] }, 1), false);
});

test("between entries lies the straight line", () => {
  assert.deepEqual([-1, 0, 0.5, 1, 3, 9].map((x) => between([0, 1, 3], [0, 10, 30], x)), [0, 0, 5, 10, 30, 30]);
});

test("ahead and right of a place, and back", () => {
  const east = { east: 5, north: 7, heading: Math.PI / 2 };
  const [e, n] = offset(east, 2, 1);
  assert.ok(Math.abs(e - 7) < 1e-12 && Math.abs(n - 6) < 1e-12, "ahead is east, right is south");
  const [ahead, right] = seenFrom(east, e, n);
  assert.ok(Math.abs(ahead - 2) < 1e-12 && Math.abs(right - 1) < 1e-12);
});

test("bearings do not jump at north", () => {
  const out = unwrap([6.2, 0.1, 6.2]);
  assert.ok(Math.abs(out[1] - out[0]) < 0.3 && Math.abs(out[2] - out[1]) < 0.3);
});

test("the worst crossing is one that lacks a lift or drop, then the largest error of either sign", () => {
  const c = (index, worstM, lost = 0, from = 0) => ({ index, worstM, lost, from, until: from + 2, east: 10 * index, north: 0, on: false, events: [] });
  assert.equal(worst([c(0, 0.1), c(1, -0.3), c(2, 0.2)]), 1);
  assert.equal(worst([c(0, 0.9), c(1, null, 1)]), 1);
  assert.equal(worst([]), -1);
  assert.equal(nearestInTime([c(0, 0, 0, 0), c(1, 0, 0, 10)], 7), 1);
  assert.equal(nearestOnPlane([c(0, 0), c(1, 0)], 9, 0, 2), 1);
  assert.equal(nearestOnPlane([c(0, 0), c(1, 0)], 5, 0, 2), -1);
});

test("a fit that the data do not give is said to be none", () => {
  const q = (kmh) => ({ speed: kmh / 3.6, placeM: 0.1, section: 0 });
  assert.match(fitText(null, [q(8), q(8.4)]), /cannot tell: speeds within 0\.4 km\/h/);
  assert.match(fitText({ time_error_s: 0.1, place_error_m: 0.05, count: 9 }, [q(8)]), /\+5\.0 cm \+ v · \+100 ms/);
  assert.match(fitText(null, []), /no pair/);
});

test("sizes of causes are read in ms, cm and per cent", () => {
  assert.equal(sizeText(0.18, "s"), "+180\u00a0ms");
  assert.equal(sizeText(-0.003, "s/section"), "−3\u00a0ms/section");
  assert.equal(sizeText(0.299, "m"), "+29.9\u00a0cm");
  assert.equal(sizeText(0.05, "share"), "5\u00a0%");
  assert.equal(sizeText(null, "s"), "at no size");
});

test("one thing is one, none and several are several", () => {
  assert.deepEqual([0, 1, 6].map((n) => counted(n, "section")), ["0 sections", "1 section", "6 sections"]);
});
