// Choosing among the crossings of a drive, and what each is called.

import { clock, lateness } from "./format.js";

/** @typedef {import("./drive.js").Crossing} Crossing */

/**
 * Returns the index of the crossing whose middle is nearest to the instant,
 * -1 when there is none.
 * @param {Crossing[]} crossings
 * @param {number} t s since the start
 */
export function nearestInTime(crossings, t) {
  let best = -1;
  let least = Infinity;
  for (const c of crossings) {
    const d = Math.abs((c.from + c.until) / 2 - t);
    if (d < least) [best, least] = [c.index, d];
  }
  return best;
}

/** The same crossing, seen from more of the drive, begins within so many seconds. */
const SAME_S = 1.5;

/**
 * Returns the index of a crossing among those of a drive that has gone on, whose
 * list may have lost its oldest; -1 when it is no longer there, or none was picked.
 * @param {Crossing[]} crossings
 * @param {{on: boolean, from: number}|null} picked
 */
export function sameCrossing(crossings, picked) {
  if (!picked) return -1;
  const same = crossings.filter((c) => c.on === picked.on && Math.abs(c.from - picked.from) <= SAME_S);
  return same.length ? same.reduce((a, b) => (Math.abs(a.from - picked.from) <= Math.abs(b.from - picked.from) ? a : b)).index : -1;
}

/**
 * Returns the index of the crossing nearest to a point of the plane that lies
 * no farther than so many metres from it, -1 when there is none.
 * @param {Crossing[]} crossings
 * @param {number} east @param {number} north
 * @param {number} withinM
 */
export function nearestOnPlane(crossings, east, north, withinM) {
  let best = -1;
  let least = withinM;
  for (const c of crossings) {
    const d = Math.hypot(c.east - east, c.north - north);
    if (d <= least) [best, least] = [c.index, d];
  }
  return best;
}

/**
 * Returns the index of the crossing with the largest error, one that lacks a
 * lift or a drop before all others; -1 when there is none.
 * @param {Crossing[]} crossings
 */
export function worst(crossings) {
  const size = (c) => 1e6 * c.lost + Math.abs(c.worstM ?? 0);
  return crossings.reduce((best, c) => (best < 0 || size(c) > size(crossings[best]) ? c.index : best), -1);
}

/** @param {Crossing} c @param {boolean} numbered   a drive that goes on loses its oldest crossings, so a number would not stay */
export function titleOf(c, numbered) {
  const move = c.on ? "drop" : "lift";
  const lost = c.lost ? `, ${c.lost} without a partner` : "";
  const error = c.worstM === null ? "" : `, worst ${lateness(c.worstM * 100, 1, "cm")}`;
  return `${numbered ? `${c.index + 1} · ` : ""}${move} at ${clock(c.from)}${error}${lost}`;
}
