// The close-up's profile: each tool's height above and depth below the
// ground, over its way from its own ideal crossing.

import { el, num } from "./node.js";
import { ticks, decimalsOf } from "./scale.js";
import { mark, diamond, judged } from "./mark.js";
import { signed } from "./format.js";
import { FONT, SMALL } from "./legend.js";
import { valueAt, instants, workedIn, between } from "./closeup-layout.js";

/** @typedef {import("./drive.js").Closeup} Closeup */
/** @typedef {import("./closeup-layout.js").Layout} Layout */

/** How far lines are drawn beyond the edges that cut them, px. */
const MARGIN = 40;

/**
 * @param {Closeup} c
 * @param {{effective: number}} depth m
 * @param {Layout} layout
 * @param {import("./palette.js").Palette} p
 * @returns {any[]}
 */
export function drawProfile(c, depth, { profile, inner: width, wordy }, p) {
  if (!profile) return [];
  const { list, row, x, h } = profile;
  const ground = h.at(0);
  const floor = row - 3;
  const rows = list.map((s, i) => {
    const X = (t) => x.at(valueAt(c, /** @type {number[]} */ (s.way), t));
    const Y = (t) => h.at(valueAt(c, /** @type {number[]} */ (s.height), t));
    const line = (from, until) => {
      const seen = instants(c, from, until, 1).filter((t) => X(t) > -MARGIN && X(t) < width + MARGIN);
      return seen.length === 0 ? undefined : "M" + seen.map((t) => `${num(X(t), 1)} ${num(Y(t), 1)}`).join("L");
    };
    const all = line(c.from, c.until);
    const work = workedIn(c, s);
    const gap = between(c, s);
    return el("g", { transform: `translate(0 ${i * row})` },
      el("rect", { x: 0, y: num(ground), width, height: num(floor - ground), fill: p.soil }),
      el("path", { d: `M0 ${num(ground)}H${width}`, stroke: p.ink, "stroke-width": 0.8, fill: "none" }),
      el("path", { d: `M0 ${num(h.at(-depth.effective))}H${width}`, stroke: p.quiet, "stroke-width": 0.7, "stroke-dasharray": "1 3", fill: "none" }),
      el("text", { x: -8, y: num(row / 2 + 4), "text-anchor": "end", fill: p.ink, ...FONT }, String(s.section + 1)),
      s.ideal !== null && s.command !== null
        ? el("text", { x: width + 8, y: num(row / 2 + 4), fill: p.quiet, ...SMALL }, `${wordy ? "command " : ""}${signed(s.command - s.ideal, 3)} s`) : null,
      el("g", { "clip-path": "url(#crossing-row)" },
        gap && el("rect", {
          x: num(X(gap.from)), y: num(ground), width: num(X(gap.until) - X(gap.from)), height: num(floor - ground),
          fill: `url(#crossing-${gap.kind})`, stroke: gap.kind === "miss" ? p.miss : p.late, "stroke-width": 0.8,
        }),
        el("path", { d: all, stroke: p.raised, "stroke-width": 2.4, fill: "none" }),
        el("path", { d: all, stroke: p.quiet, "stroke-width": 0.8, fill: "none" }),
        work && el("path", { d: line(...work), stroke: p.inWork, "stroke-width": 3.4, fill: "none" }),
        s.ideal === null ? null : el("path", { d: `M${num(X(s.ideal))} 0V${floor}`, stroke: p.ink, "stroke-width": 1.8, fill: "none" }),
        s.command === null ? null : diamond(X(s.command), Y(s.command), p, 4),
        s.actual === null ? null : mark(X(s.actual), Y(s.actual), c.on, judged(s.placeM), p, 5)));
  });
  const axis = ticks(...x.domain, Math.max(2, width / 60));
  const decimals = decimalsOf(axis);
  return [
    el("clipPath", { id: "crossing-row" }, el("rect", { x: 0, y: -2, width, height: row })),
    rows,
    axis.map((v) => el("path", { d: `M${num(x.at(v))} ${profile.height}v4`, stroke: p.quiet, fill: "none" })),
    axis.map((v, i) => el("text", { x: num(x.at(v)), y: profile.height + 15, "text-anchor": "middle", fill: p.quiet, ...SMALL },
      signed(v, decimals) + (i === axis.length - 1 ? " m" : ""))),
  ];
}

/**
 * Each tool at the cursor.
 * @param {Closeup} c
 * @param {Layout} layout
 * @param {import("./palette.js").Palette} p
 * @param {number} t
 */
export function toolsInProfile(c, { profile, inner }, p, t) {
  if (!profile) return [];
  const { list, row, x, h } = profile;
  return list.map((s, i) => {
    const cx = x.at(valueAt(c, /** @type {number[]} */ (s.way), t));
    if (cx < 0 || cx > inner) return null;
    const cy = i * row + h.at(valueAt(c, /** @type {number[]} */ (s.height), t));
    return el("circle", { cx: num(cx), cy: num(cy), r: 4.5, fill: p.ground, stroke: p.ink, "stroke-width": 2 });
  });
}
