// The close-up: made from a drive that the page knows, and laid out.

import test from "node:test";
import assert from "node:assert/strict";
import { closeupOf } from "../page/own-closeup.js";
import { layoutOf, groundOf, lineAt, valueAt, instants, workedIn, between } from "../page/closeup-layout.js";
import { drawCrossing, crossingCursor } from "../page/draw-crossing.js";
import { toMarkup } from "../page/node.js";
import { light, dark } from "../page/palette.js";

const HEADING = 0.3;
const V = 2; // m/s

/** A straight drive of two sections at a square border, lifted 0.1 s late. */
function drive() {
  const t = [...Array(41).keys()].map((i) => i * 0.5);
  const event = (section) => ({ index: section, section, on: false, match: "paired", t: 10, ideal: 10, actual: 10.1, timeS: 0.1, placeM: 0.2, east: 0, north: 0, speed: V, together: 1 });
  const events = [event(0), event(1)];
  return {
    sections: [{ x: -2, y: -0.5, width: 1 }, { x: -2, y: 0.5, width: 1 }],
    track: { t, east: t.map((s) => V * s * Math.sin(HEADING)), north: t.map((s) => V * s * Math.cos(HEADING)), heading: t.map(() => HEADING), toolHeading: t.map(() => HEADING), speed: t.map(() => V), way: t.map((s) => V * s) },
    setpoints: events.map(() => ({ t: [1, 9.8], on: [true, false] })),
    height: events.map(() => ({ t: [0, 9.9, 10.4], h: [-0.03, -0.03, 0.15] })),
    zones: [{ rings: [[[0, 0], [5, 0], [5, 5], [0, 0]]] }],
    events,
    crossings: [{ index: 0, on: false, from: 10, until: 10.1, east: 0, north: 0, events, worstM: 0.2, lost: 0 }],
  };
}

const made = () => {
  const d = /** @type {any} */ (drive());
  return closeupOf(d, d.crossings[0]);
};

test("a close-up made here: lines of the sections' width, square to the way, 0 at the ideal crossing", () => {
  const c = made();
  assert.equal(c.sections.length, 2);
  for (const s of c.sections) {
    assert.ok(s.line.every((l) => Math.abs(Math.hypot(l[2] - l[0], l[3] - l[1]) - 1) < 1e-9));
    assert.ok(Math.abs(valueAt(c, s.way, 10)) < 1e-9);
    assert.ok(Math.abs(valueAt(c, s.way, 10.1) - 0.2) < 1e-9, "place error is way from ideal to actual");
    assert.equal(s.command, 9.8);
  }
  const [left, right] = c.sections.map((s) => lineAt(c, s, 10));
  assert.ok(Math.hypot(left[2] - right[0], left[3] - right[1]) < 1e-9, "neighbours touch, leftmost first");
});

test("what lies between ideal and actual is overrun or miss by which is first and which way", () => {
  const c = { ...made() };
  const s = { ...c.sections[0] };
  assert.equal(between({ ...c, on: false }, { ...s, ideal: 1, actual: 2 }).kind, "overrun");
  assert.equal(between({ ...c, on: false }, { ...s, ideal: 2, actual: 1 }).kind, "miss");
  assert.equal(between({ ...c, on: true }, { ...s, ideal: 1, actual: 2 }).kind, "miss");
  assert.equal(between({ ...c, on: true }, { ...s, ideal: 2, actual: 1 }).kind, "overrun");
  assert.equal(between(c, { ...s, ideal: 1, actual: 1 }), null);
  assert.equal(between(c, { ...s, ideal: null }), null);
});

test("in work: after a drop, before a lift", () => {
  const c = made();
  assert.deepEqual(workedIn({ ...c, on: false }, c.sections[0]), [c.from, 10.1]);
  assert.deepEqual(workedIn({ ...c, on: true }, c.sections[0]), [10.1, c.until]);
  assert.equal(workedIn(c, { ...c.sections[0], actual: null }), null);
});

test("instants hold both ends, in order, without doubles", () => {
  const c = { from: 1, step: 0.02 };
  const list = instants(/** @type {any} */ (c), 1.03, 1.51, 5);
  assert.equal(list[0], 1.03);
  assert.equal(list.at(-1), 1.51);
  assert.ok(list.every((t, i) => i === 0 || t > list[i - 1]));
});

test("the machine drives to the right, the leftmost section on top, at true proportion", () => {
  const c = made();
  const { above } = layoutOf(c, { working: 0.03 }, 600);
  const px = (s, t) => {
    const l = lineAt(c, c.sections[s], t);
    return above.px((l[0] + l[2]) / 2, (l[1] + l[3]) / 2);
  };
  assert.ok(px(0, 10.1)[0] > px(0, 10)[0]);
  assert.ok(px(0, 10)[1] < px(1, 10)[1]);
  const ahead = (px(0, 10.1)[0] - px(0, 10)[0]) / 0.2;
  const across = px(1, 10)[1] - px(0, 10)[1];
  assert.ok(Math.abs(ahead - across) < 1e-6 * across);
});

/** Of a drive what a close-up's drawing needs: a body south of the border and headland rows north of it. */
const ground = /** @type {any} */ ({
  depth: { working: 0.03, effective: 0.015 }, rowTolerance: 0.35,
  zones: [
    { kind: "body", bearing: HEADING + Math.PI, rings: [[[-50, -50], [50, -50], [50, 0], [-50, 0], [-50, -50]]] },
    { kind: "headland", bearing: HEADING + Math.PI / 2, rings: [[[-50, 0], [50, 0], [50, 5], [-50, 5], [-50, 0]]] },
    { kind: "keep-out", bearing: null, rings: [[[0, -9], [1, -9], [1, -8], [0, -9]]] },
  ],
});

test("zones take part whose rows run along the way, either way round", () => {
  const { inside, across, never } = groundOf(made(), ground.zones, ground.rowTolerance);
  assert.deepEqual([inside, across, never], ground.zones.map((z) => z.rings));
  assert.equal(groundOf(made(), [{ ...ground.zones[1], bearing: null }], 0.35).inside.length, 1);
});

test("in work outside is overrun, or across rows; raised inside is a miss: each where its clip path says", () => {
  const text = toMarkup(drawCrossing({ closeup: made(), drive: ground, width: 500, palette: light }));
  for (const kind of ["overrun", "across_rows", "miss"]) {
    assert.match(text, new RegExp(`<clipPath id="crossing-where-${kind}"><path d="M[^"]+Z" clip-rule="evenodd"/>`));
    assert.match(text, new RegExp(`clip-path="url\\(#crossing-where-${kind}\\)"><path d="M[^"]+" fill="#FFFFFF"/><path d="M[^"]+" fill="url\\(#crossing-${kind}\\)"/>`));
  }
});

test("it is drawn at every width, with and without heights, without a figure that is none", () => {
  for (const palette of [light, dark]) {
    for (const width of [240, 328, 500, 1200]) {
      for (const change of [{}, { height: null }, { ideal: null, way: null, placeM: null, timeS: null }, { actual: null, placeM: null, timeS: null }]) {
        const c = made();
        c.sections = c.sections.map((s) => ({ ...s, ...change }));
        const o = { closeup: c, drive: ground, width, palette };
        const text = toMarkup(drawCrossing(o)) + toMarkup(crossingCursor(o, 10) ?? { tag: "g", attrs: {}, kids: [] });
        assert.doesNotMatch(text, /NaN|undefined|Infinity/);
      }
    }
  }
});

test("the cursor is not drawn outside of the close-up's seconds", () => {
  const o = { closeup: made(), drive: ground, width: 500, palette: light };
  assert.equal(crossingCursor(o, 3), null);
});
