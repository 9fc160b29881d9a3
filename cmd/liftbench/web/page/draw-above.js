// The close-up from above: the ground that each section sweeps, what of it is
// overrun or missed, the border, and for each section the ideal crossing, the command and what it did.

import { el, num } from "./node.js";
import { ticks, decimalsOf } from "./scale.js";
import { mark, diamond, judged } from "./mark.js";
import { signed, fixed } from "./format.js";
import { FONT, SMALL } from "./legend.js";
import { lineAt, instants, workedIn, raisedIn } from "./closeup-layout.js";

/** @typedef {import("./drive.js").Closeup} Closeup */
/** @typedef {import("./drive.js").CloseupSection} CloseupSection */

/** Outlines are drawn through every so many instants: a tenth of a second bends by a millimetre. */
const EVERY = 5;

/** Beyond every drawing, px. */
const FAR = 1e5;

/**
 * @param {Closeup} c
 * @param {ReturnType<typeof import("./closeup-layout.js").groundOf>} zones
 * @param {import("./closeup-layout.js").Layout} layout
 * @param {import("./palette.js").Palette} p
 * @returns {any[]}
 */
export function drawAbove(c, zones, { above, inner: width, wordy }, p) {
  const point = (e, n) => above.px(e, n).map((v) => num(v, 1)).join(" ");
  const swept = (s, from, until) => {
    const lines = instants(c, from, until, EVERY).map((t) => lineAt(c, s, t));
    return "M" + lines.map((l) => point(l[0], l[1])).join("L") + "L" + lines.reverse().map((l) => point(l[2], l[3])).join("L") + "Z";
  };
  const ground = [];
  /** What would be wrong there where its clip path lets it be seen. */
  const wrong = { overrun: [], across_rows: [], miss: [] };
  const ideal = [];
  const signs = [];
  const text = [];
  for (const s of c.sections) {
    ground.push(el("path", { d: swept(s, c.from, c.until), fill: p.raised, "fill-opacity": 0.35, stroke: p.quiet, "stroke-width": 0.5 }));
    const work = workedIn(c, s);
    if (work) {
      const d = swept(s, ...work);
      ground.push(el("path", { d, fill: p.inWork, "fill-opacity": 0.6, stroke: p.ground, "stroke-width": 0.6 }));
      wrong.overrun.push(d);
      wrong.across_rows.push(d);
    }
    const up = raisedIn(c, s);
    if (up) wrong.miss.push(swept(s, ...up));
    if (s.ideal !== null) ideal.push(el("path", { d: across(c, s, s.ideal, point), stroke: p.ink, "stroke-width": 2.2, fill: "none" }));
    if (s.command !== null) signs.push(diamond(...middle(c, s, s.command, above), p));
    if (s.actual !== null) signs.push(mark(...middle(c, s, s.actual, above), c.on, judged(s.placeM), p));
    const y = num(middle(c, s, s.ideal ?? s.actual ?? c.from, above)[1] + 4);
    text.push(el("text", { x: -8, y, "text-anchor": "end", fill: p.ink, ...FONT }, String(s.section + 1)),
      el("text", { x: width + 8, y, fill: p.ink, ...FONT }, errorText(s, wordy)));
  }
  const border = c.border.map((r) => "M" + r.map(([e, n]) => point(e, n)).join("L")).join("");
  const rings = (list) => list.map((r) => "M" + r.map(([e, n]) => point(e, n)).join("L") + "Z").join("");
  const around = `M${-FAR} ${-FAR}H${FAR}V${FAR}H${-FAR}Z`;
  const where = { overrun: around + rings([...zones.inside, ...zones.across]), across_rows: rings(zones.across), miss: rings([...zones.inside, ...zones.never]) };
  const kinds = /** @type {const} */ (["overrun", "across_rows", "miss"]);
  const axis = ticks(...above.x.domain, Math.max(2, width / 70));
  const decimals = decimalsOf(axis);
  return [
    el("clipPath", { id: "crossing-above" }, el("rect", { x: 0, y: -6, width, height: num(above.height + 12) })),
    kinds.map((k) => el("clipPath", { id: `crossing-where-${k}` }, el("path", { d: where[k], "clip-rule": "evenodd" }))),
    el("g", { "clip-path": "url(#crossing-above)" }, ground,
      kinds.map((k) => wrong[k].length === 0 ? null : el("g", { "clip-path": `url(#crossing-where-${k})` },
        el("path", { d: wrong[k].join(""), fill: p.ground }), el("path", { d: wrong[k].join(""), fill: `url(#crossing-${k})` }))),
      border && el("path", { d: border, fill: "none", stroke: p.ground, "stroke-width": 4 }),
      border && el("path", { d: border, fill: "none", stroke: p.ink, "stroke-width": 1.4, "stroke-dasharray": "7 3" }),
      ideal, signs),
    text,
    axis.map((v) => el("path", { d: `M${num(above.x.at(v))} ${num(above.height + 6)}v4`, stroke: p.quiet, fill: "none" })),
    axis.map((v, i) => el("text", { x: num(above.x.at(v)), y: num(above.height + 20), "text-anchor": "middle", fill: p.quiet, ...SMALL },
      fixed(v, decimals) + (i === axis.length - 1 ? " m" : ""))),
  ];
}

/**
 * The bar at the cursor.
 * @param {Closeup} c
 * @param {import("./closeup-layout.js").Layout} layout
 * @param {import("./palette.js").Palette} p
 * @param {number} t
 */
export function barAbove(c, { above, inner }, p, t) {
  const point = (e, n) => {
    const [x, y] = above.px(e, n);
    return `${num(Math.min(Math.max(x, 0), inner), 1)} ${num(y, 1)}`;
  };
  const seen = c.sections.filter((s) => {
    const [x] = middle(c, s, t, above);
    return x >= 0 && x <= inner;
  });
  if (seen.length === 0) return null;
  const d = seen.map((s) => across(c, s, t, point)).join("");
  return [
    el("path", { d, stroke: p.ground, "stroke-width": 5, fill: "none" }),
    el("path", { d, stroke: p.ink, "stroke-width": 2, "stroke-dasharray": "4 2", fill: "none" }),
  ];
}

/** @param {Closeup} c @param {CloseupSection} s @param {number} t @param {(e: number, n: number) => string} point */
function across(c, s, t, point) {
  const l = lineAt(c, s, t);
  return `M${point(l[0], l[1])}L${point(l[2], l[3])}`;
}

/**
 * @param {Closeup} c @param {CloseupSection} s @param {number} t
 * @param {import("./closeup-layout.js").Layout["above"]} above
 * @returns {[number, number]} px
 */
function middle(c, s, t, above) {
  const l = lineAt(c, s, t);
  return above.px((l[0] + l[2]) / 2, (l[1] + l[3]) / 2);
}

/** @param {CloseupSection} s @param {boolean} wordy */
function errorText(s, wordy) {
  if (s.ideal === null) return "extra";
  if (s.actual === null) return wordy ? "did not move" : "missed";
  const cm = `${signed((s.placeM ?? 0) * 100, 1)} cm`;
  return wordy ? `${cm}, ${signed(s.timeS ?? 0, 3)} s` : cm;
}
