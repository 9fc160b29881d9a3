// One crossing in close-up: the ground that each section sweeps, seen from
// above and turned so that the machine drives to the right; below it each
// tool's height over the way, from its own ideal crossing.

import { el, num } from "./node.js";
import { linear, ticks, decimalsOf } from "./scale.js";
import { pattern } from "./hatch.js";
import { legend, box, stroke, textWidth, FONT } from "./legend.js";
import { mark, diamond, judged } from "./mark.js";
import { between, seenFrom } from "./track.js";
import { signed, fixed } from "./format.js";

/** @typedef {import("./node.js").Node} Node */
/** @typedef {import("./drive.js").Closeup} Closeup */
/** @typedef {import("./drive.js").CloseupSection} CloseupSection */
/** @typedef {import("./palette.js").Palette} Palette */

const LEFT = 30; // section numbers
const SMALL = { ...FONT, "font-size": 11 };

/**
 * @param {object} o
 * @param {Closeup} o.closeup
 * @param {{raised: number, working: number, effective: number}} o.depth m
 * @param {number} o.width px
 * @param {Palette} o.palette
 * @param {number} o.t   the cursor, s; outside of the close-up nothing is drawn for it
 * @returns {Node}
 */
export function drawCrossing({ closeup: c, depth, width, palette: p, t }) {
  const wide = width >= 480;
  const right = wide ? 128 : 62; // errors
  const inner = width - LEFT - right;
  const parts = [];
  let y = 16;
  parts.push(el("text", { x: 0, y: 12, fill: p.quiet, ...SMALL }, "From above; driving to the right"));
  const above = fromAbove(c, inner, p, t, right);
  parts.push(el("g", { transform: `translate(${LEFT} ${y + 6})` }, above.node));
  y += above.height + 28;
  if (c.sections.some((s) => s.height && s.way)) {
    parts.push(el("text", { x: 0, y: y + 4, fill: p.quiet, ...SMALL }, "Tool height over the way, m from the ideal crossing"));
    const profile = profiles(c, depth, inner, p, t, right);
    parts.push(el("g", { transform: `translate(${LEFT} ${y + 14})` }, profile.node));
    y += profile.height + 24;
  }
  const key = crossingLegend(c, p, width);
  parts.push(el("g", { transform: `translate(0 ${y})` }, key.node));
  const height = y + key.height;
  return el("svg", { width, height, viewBox: `0 0 ${width} ${num(height)}` },
    el("defs", {}, ["overrun", "miss"].map((k) => pattern(`crossing-${k}`, k, p))),
    el("rect", { x: 0, y: 0, width, height, fill: p.ground }), parts);
}

/** What lies between the ideal and the actual instant. @param {boolean} on @param {number} placeM */
const kindOf = (on, placeM) => ((placeM > 0) !== on ? "overrun" : "miss");

/** A place that looks along the way of the bar's middle when it crosses. */
function frameOf(/** @type {Closeup} */ c) {
  const s = c.sections[c.sections.length >> 1];
  const t = s.ideal ?? s.actual ?? (c.from + c.until) / 2;
  const first = lineAt(c, c.sections[0], t);
  const last = lineAt(c, c.sections[c.sections.length - 1], t);
  const heading = Math.atan2(-(last[3] - first[1]), last[2] - first[0]);
  return { east: (first[0] + last[2]) / 2, north: (first[1] + last[3]) / 2, heading };
}

/** @param {Closeup} c @param {CloseupSection} s @param {number} t */
function lineAt(c, s, t) {
  const i = Math.min(Math.max((t - c.from) / c.step, 0), s.line.length - 1);
  const a = s.line[Math.floor(i)];
  const b = s.line[Math.ceil(i)];
  const f = i - Math.floor(i);
  return a.map((v, k) => v + (b[k] - v) * f);
}

/** @param {Closeup} c @param {ArrayLike<number>} list @param {number} t */
function valueAt(c, list, t) {
  const i = Math.min(Math.max((t - c.from) / c.step, 0), list.length - 1);
  const k = Math.floor(i);
  return k + 1 < list.length ? list[k] + (list[k + 1] - list[k]) * (i - k) : list[k];
}

/** Instants of the close-up from a to b, both ends included. */
function instants(c, a, b) {
  const out = [a];
  for (let i = Math.ceil((a - c.from) / c.step + 1e-6); c.from + i * c.step < b - 1e-6; i++) out.push(c.from + i * c.step);
  out.push(b);
  return out;
}

const workedIn = (c, s, from, until) => (s.actual === null ? null : c.on ? [Math.max(s.actual, from), until] : [from, Math.min(s.actual, until)]);

function fromAbove(/** @type {Closeup} */ c, width, /** @type {Palette} */ p, t, right) {
  const frame = frameOf(c);
  const local = (e, n) => seenFrom(frame, e, n);
  // The way shown: every mark of every section, and a little around.
  const marks = [];
  let top = Infinity;
  let bottom = -Infinity;
  for (const s of c.sections) {
    for (const at of [s.ideal, s.command, s.actual]) {
      if (at === null) continue;
      const l = lineAt(c, s, at);
      for (const k of [0, 2]) {
        const [ahead, side] = local(l[k], l[k + 1]);
        marks.push(ahead);
        top = Math.min(top, side);
        bottom = Math.max(bottom, side);
      }
    }
  }
  if (marks.length === 0) marks.push(-1, 1);
  let [a0, a1] = [Math.min(...marks) - 0.6, Math.max(...marks) + 0.6];
  const k = Math.min(width / (a1 - a0), 340 / Math.max(bottom - top, 0.5));
  const spare = width / k - (a1 - a0);
  a0 -= spare / 2;
  a1 += spare / 2;
  const height = (bottom - top) * k;
  const X = (ahead) => (ahead - a0) * k;
  const Y = (side) => (side - top) * k;
  const point = (e, n) => {
    const [ahead, side] = local(e, n);
    return `${num(X(ahead), 1)} ${num(Y(side), 1)}`;
  };
  const swept = (s, from, until) => {
    const ts = instants(c, from, until);
    const lines = ts.map((x) => lineAt(c, s, x));
    return "M" + lines.map((l) => point(l[0], l[1])).join("L") + "L" + lines.reverse().map((l) => point(l[2], l[3])).join("L") + "Z";
  };
  const across = (s, at) => {
    const l = lineAt(c, s, at);
    return `M${point(l[0], l[1])}L${point(l[2], l[3])}`;
  };
  const middle = (s, at) => {
    const l = lineAt(c, s, at);
    const [ahead, side] = local((l[0] + l[2]) / 2, (l[1] + l[3]) / 2);
    return [X(ahead), Y(side)];
  };

  const ground = [];
  const reference = [];
  const signs = [];
  const text = [];
  for (const s of c.sections) {
    const all = swept(s, c.from, c.until);
    ground.push(el("path", { d: all, fill: p.raised, "fill-opacity": 0.35, stroke: p.quiet, "stroke-width": 0.5 }));
    const work = workedIn(c, s, c.from, c.until);
    if (work && work[1] > work[0]) ground.push(el("path", { d: swept(s, work[0], work[1]), fill: p.inWork, "fill-opacity": 0.6, stroke: p.ground, "stroke-width": 0.6 }));
    if (s.ideal !== null && s.actual !== null && Math.abs(s.ideal - s.actual) > 1e-4) {
      const kind = kindOf(c.on, s.placeM ?? s.actual - s.ideal);
      const colour = kind === "miss" ? p.miss : p.late;
      ground.push(
        el("path", { d: swept(s, Math.min(s.ideal, s.actual), Math.max(s.ideal, s.actual)), fill: p.ground }),
        el("path", { d: swept(s, Math.min(s.ideal, s.actual), Math.max(s.ideal, s.actual)), fill: `url(#crossing-${kind})`, stroke: colour, "stroke-width": 1 }));
    }
    if (s.ideal !== null) reference.push(el("path", { d: across(s, s.ideal), stroke: p.ink, "stroke-width": 2.2, fill: "none" }));
    if (s.command !== null) signs.push(diamond(...middle(s, s.command), p));
    if (s.actual !== null) signs.push(mark(...middle(s, s.actual), c.on, judged(s.placeM), p, 6));
    const l = lineAt(c, s, s.ideal ?? s.actual ?? c.from);
    const [, side] = local((l[0] + l[2]) / 2, (l[1] + l[3]) / 2);
    text.push(
      el("text", { x: -8, y: num(Y(side) + 4), "text-anchor": "end", fill: p.ink, ...FONT }, String(s.section + 1)),
      el("text", { x: width + 8, y: num(Y(side) + 4), fill: p.ink, ...FONT }, errorText(s, right)));
  }
  if (t >= c.from && t <= c.until) {
    const bar = c.sections.map((s) => across(s, t)).join("");
    signs.push(el("path", { d: bar, stroke: p.ground, "stroke-width": 5, fill: "none" }),
      el("path", { d: bar, stroke: p.ink, "stroke-width": 2, "stroke-dasharray": "4 2", fill: "none" }));
  }
  const border = c.border.map((r) => "M" + r.map(([e, n]) => point(e, n)).join("L")).join("");
  const axis = ticks(a0, a1, Math.max(2, width / 70));
  const decimals = decimalsOf(axis);
  return {
    height: height + 18,
    node: el("g", {},
      el("clipPath", { id: "crossing-above" }, el("rect", { x: 0, y: -6, width, height: num(height + 12) })),
      el("g", { "clip-path": "url(#crossing-above)" }, ground,
        border && el("path", { d: border, fill: "none", stroke: p.ground, "stroke-width": 4 }),
        border && el("path", { d: border, fill: "none", stroke: p.ink, "stroke-width": 1.4, "stroke-dasharray": "7 3" }),
        reference, signs),
      text,
      axis.map((x) => el("path", { d: `M${num(X(x))} ${num(height + 6)}v4`, stroke: p.quiet, fill: "none" })),
      axis.map((x, i) => el("text", { x: num(X(x)), y: num(height + 20), "text-anchor": "middle", fill: p.quiet, ...SMALL },
        fixed(x, decimals) + (i === axis.length - 1 ? " m" : "")))),
  };
}

/** @param {CloseupSection} s @param {number} room px */
function errorText(s, room) {
  if (s.ideal === null) return room > 100 ? "no ideal one" : "extra";
  if (s.actual === null) return room > 100 ? "did not move" : "missed";
  const cm = `${signed((s.placeM ?? 0) * 100, 1)} cm`;
  return room > 100 ? `${cm}, ${signed(s.timeS ?? 0, 3)} s` : cm;
}

function profiles(/** @type {Closeup} */ c, depth, width, /** @type {Palette} */ p, t, right) {
  const list = c.sections.filter((s) => s.height);
  const row = list.length > 8 ? 34 : 52;
  const ways = [];
  for (const s of list) {
    if (!s.way) continue;
    for (const at of [s.ideal, s.command, s.actual]) if (at !== null) ways.push(valueAt(c, s.way, at));
  }
  const [w0, w1] = ways.length ? [Math.min(...ways) - 0.4, Math.max(...ways) + 0.8] : [-2, 2];
  // As high as the tools come within the way shown, so that the ground is not a hair's breadth.
  let top = depth.working;
  for (const s of list) s.height?.forEach((z, i) => s.way && s.way[i] >= w0 && s.way[i] <= w1 && (top = Math.max(top, z)));
  const x = linear(w0, w1, 0, width);
  const h = linear(-depth.working * 1.35, top * 1.08, row - 4, 2);
  const rows = list.map((s, i) => {
    const y = i * row;
    const ground = h.at(0);
    const base = [
      el("rect", { x: 0, y: num(ground), width, height: num(row - 3 - ground), fill: p.soil }),
      el("path", { d: `M0 ${num(ground)}H${width}`, stroke: p.ink, "stroke-width": 0.8, fill: "none" }),
      el("path", { d: `M0 ${num(h.at(-depth.effective))}H${width}`, stroke: p.quiet, "stroke-width": 0.7, "stroke-dasharray": "1 3", fill: "none" }),
      el("text", { x: -8, y: num(row / 2 + 4), "text-anchor": "end", fill: p.ink, ...FONT }, String(s.section + 1)),
      s.ideal !== null && s.command !== null
        ? el("text", { x: width + 8, y: num(row / 2 + 4), fill: p.quiet, ...SMALL }, `${right > 100 ? "command " : ""}${signed(s.command - s.ideal, 3)} s`) : null,
    ];
    if (!s.way || !s.height) return el("g", { transform: `translate(0 ${y})` }, base);
    const way = s.way;
    const height = s.height;
    const at = (time) => `${num(x.at(valueAt(c, way, time)), 1)} ${num(h.at(valueAt(c, height, time)), 1)}`;
    const line = (from, until) => "M" + instants(c, from, until).map(at).join("L");
    const work = workedIn(c, s, c.from, c.until);
    const inner = [
      el("path", { d: line(c.from, c.until), stroke: p.raised, "stroke-width": 2.4, fill: "none" }),
      el("path", { d: line(c.from, c.until), stroke: p.quiet, "stroke-width": 0.8, fill: "none" }),
      work && work[1] > work[0] && el("path", { d: line(work[0], work[1]), stroke: p.inWork, "stroke-width": 3.4, fill: "none" }),
    ];
    if (s.ideal !== null && s.actual !== null && Math.abs(s.ideal - s.actual) > 1e-4) {
      const kind = kindOf(c.on, s.placeM ?? 0);
      const [a, b] = [x.at(valueAt(c, way, s.ideal)), x.at(valueAt(c, way, s.actual))].sort((m, n) => m - n);
      inner.unshift(el("rect", {
        x: num(a), y: num(ground), width: num(b - a), height: num(row - 3 - ground),
        fill: `url(#crossing-${kind})`, stroke: kind === "miss" ? p.miss : p.late, "stroke-width": 0.8,
      }));
    }
    if (s.ideal !== null) {
      const xi = num(x.at(valueAt(c, way, s.ideal)));
      inner.push(el("path", { d: `M${xi} 0V${row - 3}`, stroke: p.ink, "stroke-width": 1.8, fill: "none" }));
    }
    if (s.command !== null) inner.push(diamond(x.at(valueAt(c, way, s.command)), h.at(valueAt(c, height, s.command)), p, 4));
    if (s.actual !== null) inner.push(mark(x.at(valueAt(c, way, s.actual)), h.at(valueAt(c, height, s.actual)), c.on, judged(s.placeM), p, 5));
    if (t >= c.from && t <= c.until) {
      inner.push(el("circle", { cx: num(x.at(valueAt(c, way, t))), cy: num(h.at(valueAt(c, height, t))), r: 4.5, fill: p.ground, stroke: p.ink, "stroke-width": 2 }));
    }
    return el("g", { transform: `translate(0 ${y})` }, base, el("g", { "clip-path": "url(#crossing-row)" }, inner));
  });
  const bottom = list.length * row;
  const axis = ticks(w0, w1, Math.max(2, width / 60));
  const decimals = decimalsOf(axis);
  return {
    height: bottom + 18,
    node: el("g", {},
      el("clipPath", { id: "crossing-row" }, el("rect", { x: 0, y: -2, width, height: row })),
      rows,
      axis.map((v) => el("path", { d: `M${num(x.at(v))} ${bottom}v4`, stroke: p.quiet, fill: "none" })),
      axis.map((v, i) => el("text", { x: num(x.at(v)), y: bottom + 15, "text-anchor": "middle", fill: p.quiet, ...SMALL },
        signed(v, decimals) + (i === axis.length - 1 ? " m" : "")))),
  };
}

function crossingLegend(c, p, width) {
  const hatched = (kind, colour) => [box({ fill: `url(#crossing-${kind})`, stroke: colour })];
  return legend([
    { swatch: [box({ fill: p.inWork, "fill-opacity": 0.6 })], text: "in work" },
    { swatch: [box({ fill: p.raised, "fill-opacity": 0.35, stroke: p.quiet })], text: "raised" },
    { swatch: hatched("overrun", p.late), text: "overrun" },
    { swatch: hatched("miss", p.miss), text: "miss" },
    { swatch: [el("path", { d: "M9 -1V13", stroke: p.ink, "stroke-width": 2.2, fill: "none" })], text: "ideal crossing" },
    { swatch: [stroke({ stroke: p.ink, "stroke-width": 1.4, "stroke-dasharray": "7 3" })], text: "zone border" },
    { swatch: [diamond(9, 6, p)], text: "command" },
    { swatch: [mark(9, 6, c.on, "late", p, 5)], text: `actual ${c.on ? "drop" : "lift"}, late` },
    { swatch: [mark(9, 6, c.on, "early", p, 5)], text: "early" },
    { swatch: [stroke({ stroke: p.quiet, "stroke-width": 0.9, "stroke-dasharray": "1 3" })], text: "effective depth" },
  ], width, p.ink);
}
