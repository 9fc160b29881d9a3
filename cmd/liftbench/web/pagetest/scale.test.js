// Scales, ticks and the scale bar.

import test from "node:test";
import assert from "node:assert/strict";
import { linear, roundDown, roundUp, ticks, decimalsOf, barLength, lengthText } from "../page/scale.js";

test("a linear scale takes the ends to the ends, the middle to the middle, and goes on beyond", () => {
  const s = linear(-2, 6, 100, 20);
  assert.equal(s.at(-2), 100);
  assert.equal(s.at(6), 20);
  assert.equal(s.at(2), 60);
  assert.equal(s.at(8), 0);
});

test("a domain without extent still has a scale", () => {
  assert.equal(linear(3, 3, 0, 10).at(3), 5);
});

test("round figures are 1, 2 or 5 times a power of ten", () => {
  for (const [x, down, up] of [[1, 1, 1], [1.01, 1, 2], [2, 2, 2], [4.9, 2, 5], [5, 5, 5], [7, 5, 10], [0.03, 0.02, 0.05], [1234, 1000, 2000]]) {
    assert.ok(Math.abs(roundDown(x) - down) < 1e-9 * down, `down of ${x}: ${roundDown(x)}`);
    assert.ok(Math.abs(roundUp(x) - up) < 1e-9 * up, `up of ${x}: ${roundUp(x)}`);
  }
});

test("ticks are round, inside, in order and not too many", () => {
  let seed = 7;
  const random = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
  for (let i = 0; i < 2000; i++) {
    const a = (random() - 0.5) * 10 ** (random() * 6 - 2);
    const b = a + 10 ** (random() * 6 - 3);
    const most = 1 + Math.floor(random() * 12);
    const list = ticks(a, b, most);
    const step = roundUp((b - a) / most);
    assert.ok(list.length <= most + 1, `${list.length} ticks, at most ${most} + 1`);
    list.forEach((x, k) => {
      assert.ok(x >= a - step * 1e-6 && x <= b + step * 1e-6);
      if (k) assert.ok(Math.abs(x - list[k - 1] - step) < step * 1e-6);
    });
  }
  assert.deepEqual(ticks(1, 1, 5), []);
});

test("ticks are written with the decimals in which they differ", () => {
  assert.equal(decimalsOf([0, 0.5, 1]), 1);
  assert.equal(decimalsOf([0, 0.02]), 2);
  assert.equal(decimalsOf([0, 20]), 0);
  assert.equal(decimalsOf([3]), 0);
});

test("a scale bar is a round length that fits", () => {
  for (const k of [0.02, 0.7, 3, 55, 800]) {
    const m = barLength(k, 160);
    assert.ok(m * k <= 160 + 1e-6 && m * k > 160 / 2.6, `${m} m at ${k} px/m`);
  }
  assert.equal(lengthText(0.2), "20 cm");
  assert.equal(lengthText(50), "50 m");
  assert.equal(lengthText(2000), "2 km");
});
