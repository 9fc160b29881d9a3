// The plan: the field with north up, what each section worked, and the
// crossings as marks.

import { el, num } from "./node.js";
import { pattern } from "./hatch.js";
import { legend, box, stroke, textWidth, FONT } from "./legend.js";
import { mark, judged, ON_TIME_M } from "./mark.js";
import { toPx, boundsOf } from "./view.js";
import { barLength, lengthText } from "./scale.js";
import { offset, between } from "./track.js";
import { onAt } from "./drive.js";
import { signed } from "./format.js";

/** @typedef {import("./node.js").Node} Node */
/** @typedef {import("./drive.js").Drive} Drive */
/** @typedef {import("./palette.js").Palette} Palette */

/** Below this scale the sections of one bar run into each other. */
const SECTIONS_PX_PER_M = 5;

/**
 * @param {object} o
 * @param {Drive} o.drive
 * @param {import("./view.js").View} o.view   height is that of the map, without the legend below it
 * @param {Palette} o.palette
 * @param {number|null} o.picked   crossing
 * @returns {Node}
 */
export function drawPlan({ drive, view, palette: p, picked }) {
  const unit = 1 / view.pxPerM;
  const hatchOf = (kind) => pattern(`plan-${kind}`, kind, p, { unit, flip: -1 });
  const own = (kind) => pattern(`plan-key-${kind}`, kind, p);
  const paths = pathsOf(drive);
  const [x0, y0] = toPx(view, 0, 0);
  const fine = { "vector-effect": "non-scaling-stroke" };
  const zoneFill = { body: p.body, headland: p.headland, "keep-out": p.keepOut };

  const world = el("g", { transform: `matrix(${num(view.pxPerM, 6)} 0 0 ${num(-view.pxPerM, 6)} ${num(x0)} ${num(y0)})` },
    paths.boundary && el("path", { d: paths.boundary, fill: p.headland, "fill-rule": "evenodd" }),
    paths.zones.map((z) => el("path", { d: z.d, fill: zoneFill[z.kind], "fill-rule": "evenodd" })),
    paths.passes && el("path", { d: paths.passes, fill: "none", stroke: p.quiet, "stroke-width": 0.6, "stroke-dasharray": "2 4", ...fine }),
    paths.worked.map((d) => d && el("path", {
      d, fill: p.inWork, "fill-opacity": 0.55, "fill-rule": "nonzero",
      stroke: view.pxPerM > SECTIONS_PX_PER_M ? p.inWork : "none", "stroke-width": 0.8, ...fine,
    })),
    paths.zones.map((z) => z.kind === "keep-out"
      ? el("path", { d: z.d, fill: "url(#plan-keep_out)", stroke: p.ink, "stroke-width": 1.2, ...fine })
      : el("path", { d: z.d, fill: "none", stroke: p.ink, "stroke-width": 1, "stroke-dasharray": z.kind === "headland" ? "6 3" : undefined, ...fine })),
    paths.boundary && el("path", { d: paths.boundary, fill: "none", stroke: p.ink, "stroke-width": 1.8, ...fine }),
    ["miss", "overrun", "across_rows"].map((kind) => paths[kind] && el("path", {
      d: paths[kind], fill: `url(#plan-${kind})`, "fill-rule": "nonzero",
      stroke: kind === "miss" ? p.miss : p.late, "stroke-width": 1.2, ...fine,
    })));

  const key = planLegend(p, view.width - 16, drive.straight);
  const height = view.height + key.height + 12;
  return el("svg", { width: view.width, height, viewBox: `0 0 ${view.width} ${height}` },
    el("defs", {}, ["overrun", "across_rows", "miss", "keep_out"].flatMap((k) => [hatchOf(k), own(k)]),
      el("clipPath", { id: "plan-window" }, el("rect", { x: 0, y: 0, width: view.width, height: view.height }))),
    el("rect", { x: 0, y: 0, width: view.width, height, fill: p.ground }),
    el("g", { "clip-path": "url(#plan-window)" },
      world, straightRuns(drive, view, p), zoneNames(drive, view, p), crossingMarks(drive, view, p, picked)),
    el("rect", { x: 0.5, y: 0.5, width: view.width - 1, height: view.height - 1, fill: "none", stroke: p.faint }),
    scaleBar(view, p), north(view, p),
    el("g", { transform: `translate(8 ${view.height + 8})` }, key.node));
}

/** @type {WeakMap<Drive, ReturnType<typeof buildPaths>>} */
const built = new WeakMap();

/** The paths of a drive in metres, built once for all views of it. */
function pathsOf(/** @type {Drive} */ drive) {
  let p = built.get(drive);
  if (!p) built.set(drive, (p = buildPaths(drive)));
  return p;
}

/** @param {Drive} drive */
function buildPaths(drive) {
  const out = {
    boundary: drive.boundary.map(ringPath).join(""),
    zones: drive.zones.map((z) => ({ kind: z.kind, d: z.rings.map(ringPath).join("") })),
    passes: drive.passes.map((l) => linePath(l)).join(""),
    worked: drive.sections.map(() => ""),
    miss: "", overrun: "", across_rows: "",
  };
  /** @type {string[][]} */
  const worked = drive.sections.map(() => []);
  /** @type {Record<string, string[]>} */
  const others = { miss: [], overrun: [], across_rows: [] };
  for (const s of drive.strips) (s.ground === "worked" ? worked[s.section] : others[s.ground]).push(ringPath(s.ring));
  out.worked = worked.map((l) => l.join(""));
  out.miss = others.miss.join("");
  out.overrun = others.overrun.join("");
  out.across_rows = others.across_rows.join("");
  return out;
}

/** @param {[number, number][]} line */
const linePath = (line) => "M" + line.map(([e, n]) => `${num(e, 3)} ${num(n, 3)}`).join("L");
/** @param {[number, number][]} ring */
const ringPath = (ring) => linePath(ring) + "Z";

/** Names of the zones where they fit, with a short line along the rows. */
function zoneNames(drive, view, p) {
  return drive.zones.map((z) => {
    const [w, s, e, n] = boundsOf(z.rings[0] ?? []);
    const text = z.name || z.kind;
    if (!((e - w) * view.pxPerM > textWidth(text) + 24 && (n - s) * view.pxPerM > 40)) return null;
    const [x, y] = toPx(view, (w + e) / 2, (s + n) / 2);
    const half = textWidth(text) / 2 + 4;
    return el("g", {},
      el("rect", { x: num(x - half), y: num(y - 9), width: num(2 * half), height: 18, rx: 2, fill: p.ground, "fill-opacity": 0.85 }),
      el("text", { x: num(x), y: num(y + 4), "text-anchor": "middle", fill: p.ink, ...FONT }, text));
  });
}

/**
 * The way before each drop of the bar on which the tractor has to be on its line, with a bar across at its start;
 * dashed and bold where it was not.
 * @param {Drive} drive @param {import("./view.js").View} view @param {Palette} p
 */
function straightRuns(drive, view, p) {
  const paths = [false, true].map((short) => (drive.straight?.runs ?? []).filter((r) => r.short === short).map((r) => {
    const [a, b] = r.way.map(([e, n]) => toPx(view, e, n));
    const length = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
    const [dx, dy] = [((a[1] - b[1]) / length) * 4, ((b[0] - a[0]) / length) * 4];
    return `M${num(a[0] - dx)} ${num(a[1] - dy)}L${num(a[0] + dx)} ${num(a[1] + dy)}M${num(a[0])} ${num(a[1])}L${num(b[0])} ${num(b[1])}`;
  }).join(""));
  return el("g", {},
    paths[0] && el("path", { d: paths[0], ...fineLine(p) }),
    paths[1] && el("path", { d: paths[1], ...shortLine(p) }));
}

const fineLine = (/** @type {Palette} */ p) => ({ fill: "none", stroke: p.ink, "stroke-width": 0.9 });
const shortLine = (/** @type {Palette} */ p) => ({ fill: "none", stroke: p.late, "stroke-width": 2.2, "stroke-dasharray": "5 2" });

/** @param {Drive} drive */
function crossingMarks(drive, view, p, picked) {
  const out = [];
  // The picked one last, on top of its neighbours.
  for (const c of [...drive.crossings].sort((a, b) => Number(a.index === picked) - Number(b.index === picked))) {
    const [x, y] = toPx(view, c.east, c.north);
    if (x < -20 || y < -20 || x > view.width + 20 || y > view.height + 20) continue;
    const chosen = c.index === picked;
    if (chosen) out.push(el("circle", { cx: num(x), cy: num(y), r: 12, fill: "none", stroke: p.ground, "stroke-width": 5 }),
      el("circle", { cx: num(x), cy: num(y), r: 12, fill: "none", stroke: p.ink, "stroke-width": 2 }));
    out.push(mark(x, y, c.on, c.lost ? "lost" : judged(c.worstM), p));
    if (chosen && c.worstM !== null) {
      const text = `${signed(c.worstM * 100, 1)} cm`;
      const w = textWidth(text) + 12;
      const left = x + 16 + w > view.width ? x - 16 - w : x + 16;
      out.push(el("rect", { x: num(left), y: num(y - 9), width: num(w), height: 18, fill: p.ground, stroke: p.ink }),
        el("text", { x: num(left + 6), y: num(y + 4), fill: p.ink, ...FONT }, text));
    }
  }
  return el("g", {}, out);
}

/**
 * The bar at the cursor: sections in work as a thick line, raised ones hollow, and the way ahead.
 * @param {Drive} drive @param {import("./view.js").View} view @param {Palette} p @param {number} t
 * @returns {Node|null}
 */
export function planCursor(drive, view, p, t) {
  const { track } = drive;
  if (track.t.length === 0) return null;
  const at = {
    east: between(track.t, track.east, t), north: between(track.t, track.north, t),
    heading: between(track.t, track.toolHeading, t),
  };
  const px = (ahead, right) => toPx(view, ...offset(at, ahead, right));
  const d = (a, b) => `M${num(a[0])} ${num(a[1])}L${num(b[0])} ${num(b[1])}`;
  const bar = drive.sections.map((s, i) => {
    const line = d(px(s.x, s.y - s.width / 2), px(s.x, s.y + s.width / 2));
    const on = drive.work[i] && onAt(drive.work[i], t);
    return [
      el("path", { d: line, stroke: p.ink, "stroke-width": 7, fill: "none" }),
      el("path", { d: line, stroke: on ? p.inWork : p.ground, "stroke-width": 4.5, fill: "none" }),
    ];
  });
  const tip = px(0, 0);
  const middle = px(drive.sections[0].x, 0);
  const [fx, fy] = [Math.sin(at.heading), -Math.cos(at.heading)];
  const nose = [tip[0] + fx * 14, tip[1] + fy * 14];
  return el("g", { "clip-path": "url(#plan-window)" },
    el("path", { d: d(middle, nose), stroke: p.ground, "stroke-width": 4, fill: "none" }),
    el("path", {
      d: `${d(middle, nose)}M${num(nose[0] - 5 * fx - 4 * fy)} ${num(nose[1] - 5 * fy + 4 * fx)}L${num(nose[0])} ${num(nose[1])}L${num(nose[0] - 5 * fx + 4 * fy)} ${num(nose[1] - 5 * fy - 4 * fx)}`,
      stroke: p.ink, "stroke-width": 1.6, fill: "none",
    }), bar);
}

function scaleBar(view, p) {
  const m = barLength(view.pxPerM, Math.min(160, view.width / 3));
  const w = m * view.pxPerM;
  const y = view.height - 14;
  const text = lengthText(m);
  return el("g", {},
    el("rect", { x: 6, y: y - 20, width: num(Math.max(w, textWidth(text)) + 16), height: 28, fill: p.ground, "fill-opacity": 0.85 }),
    el("path", { d: `M14 ${y - 4}V${y}H${num(14 + w)}V${y - 4}`, fill: "none", stroke: p.ink, "stroke-width": 1.5 }),
    el("text", { x: 14, y: y - 7, fill: p.ink, ...FONT }, text));
}

function north(view, p) {
  const x = view.width - 20;
  return el("g", {},
    el("rect", { x: x - 12, y: 6, width: 24, height: 40, fill: p.ground, "fill-opacity": 0.85 }),
    el("path", { d: `M${x} 42V22M${x - 4} 28L${x} 21L${x + 4} 28`, fill: "none", stroke: p.ink, "stroke-width": 1.5 }),
    el("text", { x, y: 18, "text-anchor": "middle", fill: p.ink, ...FONT }, "N"));
}

function planLegend(p, width, straight) {
  const hatched = (kind, colour) => [box({ fill: `url(#plan-key-${kind})`, stroke: colour })];
  const sign = (on, how) => [mark(9, 6, on, how, p, 5)];
  return legend([
    { swatch: [box({ fill: p.inWork, "fill-opacity": 0.55 })], text: "worked" },
    { swatch: hatched("overrun", p.late), text: "overrun" },
    { swatch: hatched("across_rows", p.late), text: "overrun across rows" },
    { swatch: hatched("miss", p.miss), text: "miss" },
    { swatch: hatched("keep_out", p.ink), text: "keep-out" },
    { swatch: [stroke({ stroke: p.ink, "stroke-width": 1.8 })], text: "field border" },
    { swatch: [stroke({ stroke: p.ink, "stroke-width": 1, "stroke-dasharray": "6 3" })], text: "zone border" },
    ...(straight ? [
      { swatch: [stroke(fineLine(p)), el("path", { d: "M4 2V10", ...fineLine(p) })], text: "on the line from here" },
      { swatch: [stroke(shortLine(p))], text: "and was not" },
    ] : []),
    { swatch: sign(false, "on time"), text: "lift" },
    { swatch: sign(true, "on time"), text: `drop (dot: within ${ON_TIME_M * 100} cm)` },
    { swatch: sign(false, "late"), text: "late" },
    { swatch: sign(false, "early"), text: "early" },
    { swatch: sign(false, "lost"), text: "no partner" },
  ], width, p.ink);
}
