// Where things stand in the close-up: places and heights at an instant, and
// the pixels that they come to.

import { linear } from "./scale.js";
import { seenFrom } from "./track.js";

/** @typedef {import("./drive.js").Closeup} Closeup */
/** @typedef {import("./drive.js").CloseupSection} CloseupSection */

/** Room for the numbers of the sections, left of the drawing. */
export const LEFT = 30;
/** Above the drawing from above, and above the profile. */
const TITLE = 22;
const AXIS = 27;

/**
 * Returns a section's line at an instant: left and right end, east and north.
 * @param {Closeup} c @param {CloseupSection} s @param {number} t
 */
export function lineAt(c, s, t) {
  const i = Math.min(Math.max((t - c.from) / c.step, 0), s.line.length - 1);
  const a = s.line[Math.floor(i)];
  const b = s.line[Math.ceil(i)];
  const f = i - Math.floor(i);
  return a.map((v, k) => v + (b[k] - v) * f);
}

/**
 * Returns what a list over the close-up's instants holds at any instant.
 * @param {Closeup} c @param {ArrayLike<number>} list @param {number} t
 */
export function valueAt(c, list, t) {
  const i = Math.min(Math.max((t - c.from) / c.step, 0), list.length - 1);
  const k = Math.floor(i);
  return k + 1 < list.length ? list[k] + (list[k + 1] - list[k]) * (i - k) : list[k];
}

/**
 * Returns the instants from a to b, both included, every so many steps.
 * @param {Closeup} c @param {number} a @param {number} b @param {number} every
 */
export function instants(c, a, b, every) {
  const step = c.step * every;
  const out = [a];
  for (let i = Math.ceil((a - c.from) / step + 1e-6); c.from + i * step < b - 1e-6; i++) out.push(c.from + i * step);
  out.push(b);
  return out;
}

/**
 * Returns when a section was in work within the close-up, null when never.
 * @param {Closeup} c @param {CloseupSection} s
 * @returns {[number, number]|null}
 */
export function workedIn(c, s) {
  if (s.actual === null) return null;
  const [a, b] = c.on ? [Math.max(s.actual, c.from), c.until] : [c.from, Math.min(s.actual, c.until)];
  return b > a ? [a, b] : null;
}

/**
 * Returns when a section was up within the close-up, null when that is not known.
 * @param {Closeup} c @param {CloseupSection} s
 * @returns {[number, number]|null}
 */
export function raisedIn(c, s) {
  return workedIn({ ...c, on: !c.on }, s);
}

/**
 * Returns the rings of the zones that the machine works on its way in the
 * close-up, of those whose rows run another way, and of those never worked.
 * @param {Closeup} c
 * @param {import("./drive.js").Zone[]} zones
 * @param {number} tolerance   rad
 */
export function groundOf(c, zones, tolerance) {
  const { heading } = frameOf(c);
  const along = (z) => z.bearing === null || Math.abs(Math.sin(heading - z.bearing)) <= Math.sin(tolerance);
  const rings = (of) => zones.filter(of).flatMap((z) => z.rings);
  return {
    inside: rings((z) => z.kind !== "keep-out" && along(z)),
    across: rings((z) => z.kind !== "keep-out" && !along(z)),
    never: rings((z) => z.kind === "keep-out"),
  };
}

/**
 * Returns what lies between the ideal and the actual instant, null when they
 * are the same or one is missing.
 * @param {Closeup} c @param {CloseupSection} s
 * @returns {{kind: "overrun"|"miss", from: number, until: number}|null}
 */
export function between(c, s) {
  if (s.ideal === null || s.actual === null || Math.abs(s.ideal - s.actual) < 1e-4) return null;
  const late = s.actual > s.ideal;
  return { kind: late === c.on ? "miss" : "overrun", from: Math.min(s.ideal, s.actual), until: Math.max(s.ideal, s.actual) };
}

/** A place in the bar's middle that looks square to the bar, along its way. */
function frameOf(/** @type {Closeup} */ c) {
  const s = c.sections[c.sections.length >> 1];
  const t = s.ideal ?? s.actual ?? (c.from + c.until) / 2;
  const first = lineAt(c, c.sections[0], t);
  const last = lineAt(c, c.sections[c.sections.length - 1], t);
  const heading = Math.atan2(-(last[3] - first[1]), last[2] - first[0]);
  return { east: (first[0] + last[2]) / 2, north: (first[1] + last[3]) / 2, heading };
}

/** @param {Closeup} c @param {number} width px @param {number} mostHeight px */
function aboveOf(c, width, mostHeight) {
  const frame = frameOf(c);
  const aheads = [];
  let top = Infinity;
  let bottom = -Infinity;
  for (const s of c.sections) {
    for (const t of [s.ideal, s.command, s.actual]) {
      if (t === null) continue;
      const l = lineAt(c, s, t);
      for (const k of [0, 2]) {
        const [ahead, side] = seenFrom(frame, l[k], l[k + 1]);
        aheads.push(ahead);
        top = Math.min(top, side);
        bottom = Math.max(bottom, side);
      }
    }
  }
  let [from, until] = aheads.length ? [Math.min(...aheads) - 0.6, Math.max(...aheads) + 0.6] : [-1, 1];
  if (!(bottom > top)) [top, bottom] = [-1, 1];
  const k = Math.min(width / (until - from), mostHeight / (bottom - top));
  const spare = width / k - (until - from);
  from -= spare / 2;
  until += spare / 2;
  /** @param {number} east @param {number} north @returns {[number, number]} px */
  const px = (east, north) => {
    const [ahead, side] = seenFrom(frame, east, north);
    return [(ahead - from) * k, (side - top) * k];
  };
  return { px, x: linear(from, until, 0, width), height: (bottom - top) * k };
}

/** @param {Closeup} c @param {{working: number}} depth @param {number} width px */
function profileOf(c, depth, width) {
  const list = c.sections.filter((s) => s.height && s.way);
  if (list.length === 0) return null;
  const ways = [];
  for (const s of list) {
    for (const t of [s.ideal, s.command, s.actual]) if (t !== null) ways.push(valueAt(c, /** @type {number[]} */ (s.way), t));
  }
  const [from, until] = ways.length ? [Math.min(...ways) - 0.4, Math.max(...ways) + 0.8] : [-2, 2];
  // As high as the tools come within the way shown, so that the depth is not a hair's breadth.
  let top = depth.working;
  for (const s of list) s.height?.forEach((z, i) => s.way && s.way[i] >= from && s.way[i] <= until && (top = Math.max(top, z)));
  const row = list.length > 8 ? 34 : 52;
  return { list, row, x: linear(from, until, 0, width), h: linear(-depth.working * 1.35, top * 1.08, row - 4, 2), height: row * list.length };
}

/**
 * Returns the layout of a close-up for a width.
 * @param {Closeup} c
 * @param {{working: number}} depth
 * @param {number} width px
 */
export function layoutOf(c, depth, width) {
  const right = width >= 480 ? 128 : 84; // errors in figures, of metres too
  const inner = width - LEFT - right;
  const above = aboveOf(c, inner, 340);
  const profile = profileOf(c, depth, inner);
  const aboveY = TITLE;
  const profileY = aboveY + above.height + AXIS + TITLE;
  const keyY = profile ? profileY + profile.height + AXIS + 4 : aboveY + above.height + AXIS + 8;
  return { inner, wordy: right > 100, above, aboveY, profile, profileY, keyY };
}

/** @typedef {ReturnType<typeof layoutOf>} Layout */
