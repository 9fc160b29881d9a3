// What a driver reads of a live bench, and which crossing stays picked.

import test from "node:test";
import assert from "node:assert/strict";
import { bannerOf, lineOf } from "../page/instant.js";
import { sameCrossing, titleOf } from "../page/crossing-list.js";

const well = {
  clock: Date.UTC(2026, 4, 12, 8, 0, 7), started: true, age: 120, maxAge: 1500, away: 0, quality: "RTK fixed", speed: 2222,
  standing: false, lost: "", lostFor: 0, failSafe: "", told: "111111",
};

test("the line says clock, age, quality, speed and setpoints", () => {
  assert.equal(lineOf(well), "08:00:07 UTC; position 0.1 s old, RTK fixed; 8.0 km/h; told to be in work: all sections");
  assert.equal(lineOf({ ...well, standing: true, told: "000000", age: 12300 }), "08:00:07 UTC; position 12 s old, RTK fixed; standing; told to be in work: none");
  assert.match(lineOf({ ...well, away: 18520 }), /RTK fixed, 18.5 km from the field; 8.0 km/);
  assert.doesNotMatch(lineOf({ ...well, away: 30 }), /field/);
  assert.match(lineOf({ ...well, speed: null, told: "010100" }), /speed not known; told to be in work: section 2, 4$/);
  assert.equal(lineOf({ ...well, started: false }), "waiting for the first position");
});

test("the banner says what is lost, since when, and what came of it", () => {
  const cases = [
    [well, 300, null],
    [{ ...well, started: false }, 300, null],
    [{ ...well, lost: "lost-fix", lostFor: 12400, failSafe: "lift", told: "000000" }, 300, "Position lost 12 s ago: fail-safe lifted all."],
    [{ ...well, lost: "low-quality", lostFor: 3000, failSafe: "hold" }, 300, "Position lost 3 s ago (its quality is too low): fail-safe keeps every section as it is."],
    [{ ...well, lost: "lost-fix", lostFor: 3000, standing: true }, 300, "Position lost 3 s ago: everything is held while the machine stands."],
    [{ ...well, lost: "lost-fix", lostFor: 600 }, 300, "Position lost 1 s ago: everything is held until the fail-safe."],
    [{ ...well, lost: "frozen-fix", lostFor: 3000, failSafe: "lift" }, 300, "Position lost 3 s ago (it does not agree with speed and course): fail-safe lifted all."],
    [{ ...well, lost: "lost-fix", lostFor: 9 * 3600e3, failSafe: "lift" }, 300, "Position lost 9.0 h ago: fail-safe lifted all."],
    [{ ...well, age: 20000 }, 300, "No position for 20 s."],
    [well, 2000, "No word from liftbench for 2 s: what is shown is of 08:00:07 UTC."],
    [{ ...well, lost: "lost-fix" }, 60000, "No word from liftbench for 60 s: what is shown is of 08:00:07 UTC."],
    [well, 15 * 60e3, "No word from liftbench for 15 min: what is shown is of 08:00:07 UTC."],
    [null, 60000, "No word from liftbench for 60 s: nothing has been shown yet."],
  ];
  for (const [now, silentMs, want] of cases) assert.equal(bannerOf(/** @type {any} */ (now), /** @type {number} */ (silentMs)), want);
});

test("a picked crossing stays itself when the oldest are forgotten", () => {
  const c = (index, on, from) => /** @type {any} */ ({ index, on, from, until: from + 1, worstM: 0.012, lost: 0 });
  const picked = c(7, true, 300.1);
  assert.equal(sameCrossing([c(0, true, 290), c(1, false, 300.2), c(2, true, 300.15), c(3, true, 301.3)], picked), 2);
  assert.equal(sameCrossing([c(0, false, 300.1), c(1, true, 320)], picked), -1);
  assert.equal(sameCrossing([c(0, true, 300)], null), -1);
  assert.match(titleOf(picked, false), /^drop at 5:00, worst 1.2.cm late$/);
  assert.match(titleOf(picked, true), /^8 · drop/);
});
