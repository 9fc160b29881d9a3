// A drive as the server tells it, turned into metres, seconds and named
// figures: the one place that knows the order of the lists in an answer.

import { unwrap } from "./track.js";

/**
 * @typedef {[number, number][]} Ring   east, north, m; closed
 * @typedef {"worked"|"overrun"|"across_rows"|"miss"} Ground
 *
 * @typedef {object} DriveEvent
 * @property {number} index
 * @property {number} section   from 0
 * @property {boolean} on   drop; otherwise lift
 * @property {"paired"|"missed"|"spurious"|"start"} match
 * @property {number} t   ideal instant, the actual one where there is no ideal
 * @property {number|null} ideal @property {number|null} actual   s
 * @property {number|null} timeS @property {number|null} placeM   errors, positive = late
 * @property {number} east @property {number} north
 * @property {number} speed   m/s
 * @property {number} together
 *
 * @typedef {object} Crossing
 * @property {number} index
 * @property {boolean} on
 * @property {number} from @property {number} until   s
 * @property {number} east @property {number} north
 * @property {DriveEvent[]} events
 * @property {number|null} worstM   the place error of the largest size
 * @property {number} lost   events without a partner
 *
 * @typedef {object} Zone
 * @property {string} name
 * @property {"body"|"headland"|"keep-out"} kind
 * @property {number|null} bearing   rad
 * @property {Ring[]} rings
 *
 * @typedef {object} Steps   what holds from each instant on
 * @property {number[]} t
 * @property {boolean[]} on
 *
 * @typedef {object} Drive
 * @property {string} name   that the server keeps it under
 * @property {string} title
 * @property {string[]} fixed
 * @property {boolean} simulated   heights and work states were computed from the setpoints; otherwise work states were recorded
 * @property {boolean} [live]   it goes on, and what is shown are its last minutes
 * @property {string[]} warnings
 * @property {number} duration @property {number} distance
 * @property {{lift: number, drop: number}} leads   s
 * @property {{raised: number, working: number, effective: number}} depth   m
 * @property {number} rowTolerance   rad: a zone with a bearing takes part while the heading is so near to it, both ways
 * @property {{x: number, y: number, width: number}[]} sections
 * @property {[number, number, number, number]} bounds
 * @property {Ring[]} boundary
 * @property {Zone[]} zones
 * @property {Ring[]} passes
 * @property {{text: string, runs: {way: Ring, short: boolean}[]}|null} straight   the run before borders; short: on the line later than at the way's start
 * @property {import("./track.js").Track} track
 * @property {{section: number, ground: Ground, from: number, until: number, ring: Ring}[]} strips
 * @property {DriveEvent[]} events
 * @property {Crossing[]} crossings
 * @property {Steps[]} setpoints @property {Steps[]} work   by section
 * @property {{t: number[], h: number[]}[]} height   by section, m above ground; empty for recorded states
 * @property {{lift: Fit|null, drop: Fit|null}} fit
 * @property {any|null} summary
 * @property {any} diagnosis
 *
 * @typedef {{time_error_s: number|null, time_error_ci95?: [number, number]|number|null, place_error_m: number|null, place_error_ci95?: [number, number]|number|null, count: number}} Fit
 */

const grounds = /** @type {Ground[]} */ (["worked", "overrun", "across_rows", "miss"]);
const matches = /** @type {DriveEvent["match"][]} */ (["paired", "missed", "spurious", "start"]);

/** @param {number|null} x @param {number} k */
const scaled = (x, k) => (x === null || x === undefined ? null : x / k);

/**
 * Of a live drive what is not known yet may be absent.
 * @param {any} a   answer to /api/run, or a live state
 * @returns {Drive}
 */
export function decodeDrive(a) {
  const events = (a.events ?? []).map(decodeEvent);
  const working = a.depth?.working ?? 0;
  return {
    name: a.drive ?? "",
    title: a.title,
    fixed: a.fixed ?? [],
    simulated: a.simulated ?? false,
    warnings: a.warnings ?? [],
    duration: a.duration / 1000,
    distance: a.distance / 1000,
    leads: { lift: (a.leads?.lift ?? 0) / 1000, drop: (a.leads?.drop ?? 0) / 1000 },
    depth: { raised: (a.depth?.raised ?? 0) / 1000, working: working / 1000, effective: (a.depth?.effective ?? 0) / 1000 },
    rowTolerance: (a.rowTolerance ?? 0) / 1000,
    sections: a.sections.map(([x, y, width]) => ({ x: x / 1000, y: y / 1000, width: width / 1000 })),
    bounds: a.bound.map((v) => v / 1000),
    boundary: (a.boundary ?? []).map(ringOf),
    zones: (a.zones ?? []).map((z) => ({ ...z, bearing: scaled(z.bearing, 1000), rings: z.rings.map(ringOf) })),
    passes: (a.passes ?? []).map(ringOf),
    straight: a.straight
      ? { text: a.straight.text, runs: a.straight.runs.map((r) => ({ way: ringOf(r.slice(0, 4)), short: r[4] < a.straight.line })) }
      : null,
    track: decodeTrack(a.track ?? []),
    strips: (a.strips ?? []).map(([section, ground, from, until, ring]) => ({
      section, ground: grounds[ground], from: from / 1000, until: until / 1000, ring: anticlockwise(ringOf(ring)),
    })),
    events,
    crossings: (a.crossings ?? []).map((c, i) => decodeCrossing(c, i, events)),
    setpoints: a.sections.map((_, i) => stepsOf(a.setpoints?.[i] ?? [], 3)),
    work: a.sections.map((_, i) => stepsOf(a.work?.[i] ?? [], 2)),
    height: (a.height ?? []).map((list) => heightOf(list, working)),
    fit: a.fit ?? { lift: null, drop: null },
    summary: a.summary ?? null,
    diagnosis: a.diagnosis ?? null,
  };
}

/** @param {number[]} flat mm @returns {Ring} */
export function ringOf(flat) {
  /** @type {Ring} */
  const ring = [];
  for (let i = 0; i + 1 < flat.length; i += 2) ring.push([flat[i] / 1000, flat[i + 1] / 1000]);
  return ring;
}

/**
 * Strips of one path are filled together: all the same way round, those that
 * overlap add up instead of cancelling.
 * @param {Ring} ring
 */
export function anticlockwise(ring) {
  let twice = 0;
  for (let i = 1; i < ring.length; i++) twice += ring[i - 1][0] * ring[i][1] - ring[i][0] * ring[i - 1][1];
  return twice < 0 ? ring.reverse() : ring;
}

function decodeTrack(rows) {
  const column = (i) => rows.map((r) => r[i] / 1000);
  return {
    t: column(0), east: column(1), north: column(2),
    heading: unwrap(column(3)), speed: column(4), way: column(5), toolHeading: unwrap(column(6)),
  };
}

function decodeEvent(e, index) {
  const [section, on, match, ideal, actual, time, place, east, north, speed, , , together] = e;
  return {
    index, section, on: on === 1, match: matches[match],
    t: (ideal ?? actual) / 1000,
    ideal: scaled(ideal, 1000), actual: scaled(actual, 1000),
    timeS: scaled(time, 1e4), placeM: scaled(place, 1e4),
    east: east / 1000, north: north / 1000, speed: speed / 1000, together,
  };
}

function decodeCrossing([on, from, until, east, north, list], index, events) {
  const own = list.map((i) => events[i]);
  const worstM = own.reduce((w, e) => (e.placeM !== null && (w === null || Math.abs(e.placeM) > Math.abs(w)) ? e.placeM : w), null);
  return {
    index, on: on === 1, from: from / 1000, until: until / 1000, east: east / 1000, north: north / 1000,
    events: own, worstM, lost: own.filter((e) => e.match === "missed" || e.match === "spurious").length,
  };
}

/** @param {number[]} flat @param {number} size entries of one step @returns {Steps} */
function stepsOf(flat, size) {
  const out = { t: [], on: [] };
  for (let i = 0; i < flat.length; i += size) {
    out.t.push(flat[i] / 1000);
    out.on.push(flat[i + 1] === 1);
  }
  return out;
}

/** Height above the ground, from height above working depth. */
function heightOf(flat, workingMm) {
  const out = { t: [], h: [] };
  for (let i = 0; i < flat.length; i += 2) {
    out.t.push(flat[i] / 1000);
    out.h.push((flat[i + 1] - workingMm) / 1000);
  }
  return out;
}

/**
 * @typedef {object} CloseupSection
 * @property {number} section
 * @property {[number, number, number, number][]} line   left and right end, east and north, at each instant
 * @property {number[]|null} height   m above ground
 * @property {number[]|null} way   m from the ideal crossing
 * @property {number|null} ideal @property {number|null} command @property {number|null} actual   s
 * @property {number|null} timeS @property {number|null} placeM
 *
 * @typedef {object} Closeup
 * @property {boolean} on
 * @property {number} from @property {number} until @property {number} step   s
 * @property {Ring[]} border
 * @property {CloseupSection[]} sections   those that cross, leftmost first
 */

/**
 * @param {any} a   answer to /api/closeup
 * @param {{working: number}} depth
 * @returns {Closeup}
 */
export function decodeCloseup(a, depth) {
  return {
    on: a.on === 1, from: a.from / 1000, until: a.until / 1000, step: a.step / 1000,
    border: a.border.map(ringOf),
    sections: [...a.sections].sort((x, y) => x.section - y.section).map((s) => ({
      section: s.section,
      line: s.line.map((l) => l.map((v) => v / 1000)),
      height: s.height ? s.height.map((h) => h / 1000 - depth.working) : null,
      way: s.way ? s.way.map((w) => w / 1000) : null,
      ideal: scaled(s.ideal, 1000), command: scaled(s.command, 1000), actual: scaled(s.actual, 1000),
      timeS: scaled(s.timeError, 1e4), placeM: scaled(s.placeError, 1e4),
    })),
  };
}

/**
 * Says whether a step function is on at an instant; off before its first step.
 * @param {Steps} steps
 * @param {number} t
 */
export function onAt(steps, t) {
  let lo = 0;
  let hi = steps.t.length;
  while (lo < hi) {
    const mid = (lo + hi) >> 1;
    if (steps.t[mid] <= t) lo = mid + 1;
    else hi = mid;
  }
  return lo > 0 && steps.on[lo - 1];
}
