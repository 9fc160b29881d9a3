// What a live bench is at this instant, in words a driver reads: one line that
// always stands there, and a banner for when what is shown is not to be relied on.

import { fixed } from "./format.js";

/**
 * @typedef {object} Instant   as the server tells it once a second; API.md says more
 * @property {number} clock   ms since 1970
 * @property {boolean} started
 * @property {number} age @property {number} maxAge   ms
 * @property {number} away   of the newest position from the field, m
 * @property {string} quality
 * @property {number|null} speed   mm/s
 * @property {boolean} standing
 * @property {string} lost   why the position is lost, "" = it is not
 * @property {number} lostFor   ms
 * @property {string} failSafe   "lift" or "hold" once it was reached
 * @property {string} told   a character a section: 1 = in work
 */

/** Without a word for so long the connection counts as lost; the server speaks every second. */
export const SILENCE_MS = 1800;

/** @param {number} ms since 1970 */
export const clockOf = (ms) => new Date(ms).toISOString().slice(11, 19);

/** From here on a position that far from the field is worth a word: no turn leads so far out. */
const FAR_M = 200;

/**
 * Writes how long something has lasted, as one reads it: 1.2 s, 40 s, 15 min, 8.4 h.
 * @param {number} ms
 * @param {number} [decimals] of seconds below ten
 */
export function lasting(ms, decimals = 0) {
  if (ms < 120e3) return `${fixed(ms / 1000, ms < 10000 ? decimals : 0)} s`;
  return ms < 120 * 60e3 ? `${fixed(ms / 60e3, 0)} min` : `${fixed(ms / 3600e3, 1)} h`;
}

/** @param {Instant} now */
export function lineOf(now) {
  if (!now.started) return "waiting for the first position";
  const speed = now.speed === null ? "speed not known" : now.standing ? "standing" : `${fixed(now.speed * 0.0036, 1)} km/h`;
  return `${clockOf(now.clock)} UTC; position ${lasting(now.age, 1)} old, ${now.quality}${now.away >= FAR_M ? `, ${fixed(now.away / 1000, 1)} km from the field` : ""}; ${speed}; told to be in work: ${toldOf(now.told)}`;
}

/** @param {string} told */
function toldOf(told) {
  const list = [...told].flatMap((c, i) => (c === "1" ? [i + 1] : []));
  if (list.length === 0) return "none";
  return list.length === told.length ? "all sections" : `section ${list.join(", ")}`;
}

const causes = /** @type {Record<string, string>} */ ({
  "lost-fix": "",
  "low-quality": " (its quality is too low)",
  "frozen-fix": " (it does not agree with speed and course)",
});

/**
 * Returns what the banner says, null where there is nothing to warn of.
 * @param {Instant|null} now   the last that was told
 * @param {number} silentMs   since the server spoke
 */
export function bannerOf(now, silentMs) {
  if (silentMs > SILENCE_MS) {
    const of = now?.started ? `what is shown is of ${clockOf(now.clock)} UTC` : "nothing has been shown yet";
    return `No word from liftbench for ${lasting(silentMs)}: ${of}.`;
  }
  if (!now?.started) return null;
  if (now.lost) {
    const done = now.failSafe === "lift" ? "fail-safe lifted all" : now.failSafe === "hold" ? "fail-safe keeps every section as it is"
      : now.standing ? "everything is held while the machine stands" : "everything is held until the fail-safe";
    return `Position lost ${lasting(now.lostFor)} ago${causes[now.lost] ?? ` (${now.lost})`}: ${done}.`;
  }
  return now.age > now.maxAge ? `No position for ${lasting(now.age)}.` : null;
}
