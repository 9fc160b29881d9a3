// Drawings as data: SVG text, hatches, marks, the plan's window.

import test from "node:test";
import assert from "node:assert/strict";
import { el, num, toMarkup } from "../page/node.js";
import { angles, pattern } from "../page/hatch.js";
import { light, dark } from "../page/palette.js";
import { judged, mark } from "../page/mark.js";
import { fit, pan, zoom, toPx, toPlane } from "../page/view.js";
import { spans } from "../page/draw-strip.js";

test("SVG text escapes what is not of the drawing", () => {
  const text = toMarkup(el("text", { "data-name": '"<&' }, "a < b & c"));
  assert.match(text, /data-name="&quot;&lt;&amp;"/);
  assert.match(text, />a &lt; b &amp; c</);
  assert.match(text, /xmlns="http:\/\/www.w3.org\/2000\/svg"/);
});

test("absent attributes and kids are left out", () => {
  assert.equal(toMarkup(el("g", { fill: undefined, x: 0 }, null, [[el("path")]])).split("\n")[1],
    '<g xmlns="http://www.w3.org/2000/svg" x="0"><path/></g>');
});

test("numbers are short and never minus zero", () => {
  for (const [x, s] of [[1, "1"], [1.5, "1.5"], [-0.001, "0"], [100, "100"], [0.126, "0.13"]]) assert.equal(num(x), s);
});

test("every kind of hatched ground has lines of its own direction", () => {
  const seen = Object.values(angles).map((a) => a.join());
  assert.equal(new Set(seen).size, seen.length);
  for (const kind of /** @type {const} */ (["overrun", "across_rows", "miss", "keep_out"])) {
    const p = pattern("id", kind, light);
    assert.equal(p.kids.filter((k) => typeof k !== "string" && k.tag === "path").length, angles[kind].length);
  }
});

test("a hatch keeps its distance on the screen at every scale, and its direction where y points up", () => {
  assert.equal(pattern("id", "miss", light, { unit: 0.25, flip: -1 }).attrs.patternTransform, "scale(0.25 -0.25)");
});

// Relative luminance and contrast as in WCAG 2.2.
const luminance = (hex) => {
  const [r, g, b] = [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255).map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const contrast = (a, b) => {
  const [x, y] = [luminance(a), luminance(b)].sort((m, n) => n - m);
  return (x + 0.05) / (y + 0.05);
};

test("text stands out from every ground that it is written on", () => {
  for (const p of [light, dark]) {
    for (const ground of [p.ground, p.body, p.headland, p.soil]) assert.ok(contrast(p.ink, ground) >= 7);
    assert.ok(contrast(p.quiet, p.ground) >= 4.5);
  }
});

test("marks tell late, early, on time and lost apart without colour", () => {
  assert.deepEqual([0.031, 0.03, -0.05, 0.001, null].map(judged), ["late", "on time", "early", "on time", "lost"]);
  const grey = (n) => toMarkup(n).replaceAll(/#[0-9A-F]{6}/gi, (c) => (c === light.ground ? "ground" : "ink"));
  const shapes = /** @type {const} */ (["late", "early", "on time", "lost"]).flatMap((how) => [true, false].map((on) => grey(mark(0, 0, on, how, light))));
  assert.equal(new Set(shapes).size, 7); // lost has no direction
});

test("the plan's window: pixels and plane are one to one", () => {
  const v = fit([-100, -50, 100, 150], 400, 300);
  const [x, y] = toPx(v, 30, 70);
  const [e, n] = toPlane(v, x, y);
  assert.ok(Math.abs(e - 30) < 1e-9 && Math.abs(n - 70) < 1e-9);
  assert.ok(toPx(v, 0, 150)[1] < toPx(v, 0, -50)[1], "north is up");
  assert.ok(toPx(v, 100, 0)[0] > toPx(v, -100, 0)[0], "east is right");
});

test("zooming keeps the plane under the pointer, panning moves it along", () => {
  const v = fit([0, 0, 100, 100], 400, 300);
  const before = toPlane(v, 37, 211);
  const after = toPlane(zoom(v, 3, 37, 211), 37, 211);
  assert.ok(Math.hypot(before[0] - after[0], before[1] - after[1]) < 1e-9);
  const moved = toPlane(pan(v, 20, -5), 57, 206);
  assert.ok(Math.hypot(before[0] - moved[0], before[1] - moved[1]) < 1e-9);
  assert.ok(Number.isFinite(zoom(v, 1e12).pxPerM) && zoom(v, 1e-12).pxPerM > 0);
});

test("spans of a step function are cut by the window and end with the drive", () => {
  const steps = { t: [1, 3, 5], on: [true, false, true] };
  assert.deepEqual(spans(steps, 0, 10, 8), [[1, 3], [5, 8]]);
  assert.deepEqual(spans(steps, 2, 6, 8), [[2, 3], [5, 6]]);
  assert.deepEqual(spans(steps, 3.5, 4.5, 8), []);
});
