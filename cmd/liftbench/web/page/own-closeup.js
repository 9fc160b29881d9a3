// A close-up from what the page already knows of a drive, for a drive that
// is still going on and of which the server has no run to look into.

import { between, offset } from "./track.js";

/** @typedef {import("./drive.js").Drive} Drive */
/** @typedef {import("./drive.js").Closeup} Closeup */

const AROUND_S = 1.2;
const STEP_S = 0.05;
/** A command counts for a crossing that it comes at most so long before. */
const LONGEST_LEAD_S = 5;

/**
 * Returns the seconds around a crossing. A trailed tool is taken to follow
 * straight behind the tractor.
 * @param {Drive} drive
 * @param {import("./drive.js").Crossing} crossing
 * @returns {Closeup}
 */
export function closeupOf(drive, crossing) {
  const { track } = drive;
  const commands = crossing.events.map((e) => commandOf(drive.setpoints[e.section], e));
  const from = Math.max(Math.min(crossing.from, ...commands.filter((t) => t !== null)) - AROUND_S, track.t[0]);
  const until = Math.min(crossing.until + AROUND_S, track.t[track.t.length - 1]);
  const times = [];
  for (let i = 0; from + i * STEP_S <= until; i++) times.push(from + i * STEP_S);
  const places = times.map((t) => ({
    east: between(track.t, track.east, t), north: between(track.t, track.north, t), heading: between(track.t, track.toolHeading, t),
  }));
  const sections = crossing.events.map((e, k) => {
    const { x, y, width } = drive.sections[e.section];
    const line = places.map((p) => /** @type {[number, number, number, number]} */ ([...offset(p, x, y - width / 2), ...offset(p, x, y + width / 2)]));
    const h = drive.height[e.section];
    return {
      section: e.section, line,
      height: h && h.t.length ? times.map((t) => between(h.t, h.h, t)) : null,
      way: e.ideal === null ? null : wayOf(line, times, e.ideal),
      ideal: e.ideal, command: commands[k], actual: e.actual, timeS: e.timeS, placeM: e.placeM,
    };
  });
  sections.sort((a, b) => a.section - b.section);
  return { on: crossing.on, from, until: times[times.length - 1], step: STEP_S, border: drive.zones.flatMap((z) => z.rings), sections };
}

/** The last setpoint of the event's direction before it happened. */
function commandOf(steps, e) {
  const t = e.actual ?? e.ideal;
  let found = null;
  steps?.t.forEach((at, i) => {
    if (steps.on[i] === e.on && at <= t && at >= t - LONGEST_LEAD_S) found = at;
  });
  return found;
}

/** Metres along the way of a section's middle, 0 at the ideal instant. */
function wayOf(line, times, ideal) {
  const way = [0];
  for (let i = 1; i < line.length; i++) {
    const [a, b] = [line[i - 1], line[i]];
    way.push(way[i - 1] + Math.hypot(b[0] + b[2] - a[0] - a[2], b[1] + b[3] - a[1] - a[3]) / 2);
  }
  const zero = between(times, way, ideal);
  return way.map((w) => w - zero);
}
