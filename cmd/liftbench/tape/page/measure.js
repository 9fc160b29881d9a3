// The page: readings in, what to set out, kept in the browser.

import { csv, find, number, signed, wish, withinM } from "./tape.js";

const key = "liftbench.measure";
const $ = (id) => document.getElementById(id);
const settings = ["lift-lead", "drop-lead", "antenna", "want", "slow", "fast", "at", "direction", "oil", "section"];
const usual = { want: "40", slow: "4", fast: "10", at: "8" };
const ranges = { "lift-lead": [0, 10000], "drop-lead": [0, 10000], antenna: [-30, 30], want: [5, 1000], slow: [0.5, 36], fast: [0.5, 36], at: [0.5, 36] };

// A reading as it is kept: numbers as they were typed, in the units of the field.
let state = { readings: [], fields: { ...usual } };
let keeps = true;

function load() {
  try {
    const kept = JSON.parse(localStorage.getItem(key) ?? "null");
    if (kept && Array.isArray(kept.readings) && typeof kept.fields === "object") {
      const fine = (r) => ["lift", "drop"].includes(r?.move) && r.kmh > 0 && Number.isFinite(r.cm);
      state = { readings: kept.readings.filter(fine), fields: { ...usual, ...kept.fields } };
    }
  } catch {
    keeps = false;
  }
}

function keep() {
  try {
    localStorage.setItem(key, JSON.stringify(state));
    keeps = true;
  } catch {
    keeps = false;
  }
}

const field = (id) => {
  const x = number(String(state.fields[id] ?? ""));
  const [lo, hi] = ranges[id];
  return x >= lo && x <= hi ? x : null;
};

// readings are those that find takes; the heading of the CSV is row 1.
const readings = () =>
  state.readings.map((r, i) => ({
    row: i + 2,
    move: r.move,
    speedMps: r.kmh / 3.6,
    lateM: r.cm / 100,
    leadS: r.leadMs == null ? null : r.leadMs / 1000,
    antennaM: r.antennaM ?? null,
    section: r.section ?? 0,
    oil: r.oil ?? null,
    direction: r.direction ?? "",
  }));

function wanted() {
  const w = wish();
  w.wantS = (field("want") ?? 40) / 1000;
  const slow = field("slow") ?? 4;
  const fast = field("fast") ?? 10;
  [w.slowMps, w.fastMps] = slow + 1 <= fast ? [slow / 3.6, fast / 3.6] : [4 / 3.6, 10 / 3.6];
  w.atMps = (field("at") ?? 8) / 3.6;
  return w;
}

const plain = (x) => String(Math.round(x * 100) / 100);

function leadLine(move, t) {
  const half = (1000 * t.half).toFixed(0);
  const only = t.parted ? "" : !t.line.oneSpeed ? ", if no place is wrong" : `, at ${(3.6 * t.meanMps).toFixed(1)} km/h alone`;
  if (t.leadMs == null) return `${move} lead ${Math.abs(1000 * t.timeErrorS).toFixed(0)} ms ${t.timeErrorS < 0 ? "shorter" : "longer"} than is set (± ${half})${only}`;
  if (t.leadMs < 0) return `${move} lead ${t.leadSetMs.toFixed(0)} → 0 ms, which is not short enough: the readings ask for ${t.leadMs.toFixed(0)} ms (± ${half})${only}`;
  return `${move} lead ${t.leadSetMs.toFixed(0)} → ${t.leadMs.toFixed(0)} ms (± ${half})${only}`;
}

function distanceLine(d) {
  if (!d.known) return "";
  const cm = `${signed(100 * d.errorM, 1)} cm, ${signed(100 * d.ci95[0], 1)} to ${signed(100 * d.ci95[1], 1)}`;
  if (d.differ) return "distance antenna to tool: leave it (lifts and drops are off by different places)";
  if (!d.change) return `distance antenna to tool: leave it (${cm}: no more than chance)`;
  if (d.newM != null) return `distance antenna to tool: ${d.setM.toFixed(2)} → ${d.newM.toFixed(2)} m (${cm} off)`;
  return `distance antenna to tool: ${Math.abs(100 * d.errorM).toFixed(0)} cm ${d.errorM > 0 ? "less" : "more"} than is set, tool behind the antenna (${cm} off)`;
}

function element(tag, text, attributes = {}) {
  const e = document.createElement(tag);
  if (text) e.textContent = text;
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  return e;
}

function bullets(title, items) {
  if (!items.length) return [];
  const ul = element("ul");
  ul.append(...items.map((text) => element("li", text)));
  return [element("p", title), ul];
}

function showAnswer(a, w) {
  const parts = [];
  for (const move of ["lift", "drop"]) if (a[move]) parts.push(element("p", leadLine(move, a[move]), { class: "answer" }));
  const distance = distanceLine(a.distance);
  if (distance) parts.push(element("p", distance));
  const within = ["lift", "drop"].map((m) => [m, withinM(a, m, w.atMps)]).filter(([, x]) => x != null);
  if (within.length) parts.push(element("p", `with this, ${within.map(([m, x]) => `95 % of ${m}s within ± ${(100 * x).toFixed(1)} cm`).join(", ")} at ${plain(3.6 * w.atMps)} km/h`));
  for (const move of ["lift", "drop"])
    parts.push(...bullets(`What ${move}s hang on beside`, (a[move]?.effects ?? []).map((e) => (e.placeM ? `${e.name}: ${signed(100 * e.placeM, 1)} cm further on (± ${(100 * e.half).toFixed(1)})` : `${e.name}: ${signed(1000 * e.timeS, 0)} ms later (± ${(1000 * e.half).toFixed(0)})`))));
  parts.push(...bullets("Left out, as chance does not put a reading so far from the others: misread, or a slip?", ["lift", "drop"].flatMap((m) => (a[m]?.leftOut ?? []).map((l) => `reading ${l.row - 1}: ${signed(100 * l.offM, 0)} cm beside the line of the others`))));
  parts.push(...bullets("Cannot tell", a.cannotTell.map((s) => s.replace(/\brows (\d+(?:, \d+)*) and (\d+)/, (_, x, y) => `readings ${x.split(", ").map((k) => k - 1).join(", ")} and ${y - 1}`))));
  if (!parts.length) parts.push(element("p", "Nothing yet. Set a line of flags, drive over it, stop, make safe, and measure."));
  $("answer").replaceChildren(...parts);
  const next = a.next.map((n) => `${n.passes} more at ${plain(n.speedKmh)} km/h`).join(" and ");
  const first = [...a.next].sort((x, y) => y.passes - x.passes)[0];
  if (!state.readings.length) $("next").textContent = `Next pass: at ${plain(3.6 * w.slowMps)} km/h`;
  else if (first) $("next").textContent = `Next pass: at ${plain(first.speedKmh)} km/h (${next} bring the leads to about ± ${plain(1000 * w.wantS)} ms)`;
  else $("next").textContent = `Set this, and drive one pass at ${plain(3.6 * w.atMps)} km/h to see it hold.`;
}

const svgNS = "http://www.w3.org/2000/svg";
function svg(tag, attributes, text) {
  const e = document.createElementNS(svgNS, tag);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, typeof v === "number" ? v.toFixed(1) : v);
  if (text) e.textContent = text;
  return e;
}

// round is 1, 2 or 5 times a power of ten, about a fifth of a span.
function round(span) {
  const p = 10 ** Math.floor(Math.log10(span / 5));
  return [1, 2, 5, 10].map((k) => k * p).find((s) => span / s <= 6);
}

function showPlot(a) {
  const list = readings();
  const [W, H, left, right, top, bottom] = [360, 260, 44, 8, 20, 36];
  const kmh = list.map((r) => 3.6 * r.speedMps);
  const cm = list.map((r) => 100 * r.lateM);
  const xMax = Math.max(10, ...kmh) * 1.05;
  let [lo, hi] = [Math.min(0, ...cm), Math.max(10, ...cm)];
  [lo, hi] = [lo - 0.08 * (hi - lo), hi + 0.08 * (hi - lo)];
  const x = (v) => left + ((W - left - right) * v) / xMax;
  const y = (c) => top + ((H - top - bottom) * (hi - c)) / (hi - lo);
  const s = svg("svg", { viewBox: `0 0 ${W} ${H}`, role: "img", "aria-label": `Late in cm over speed in km/h: ${list.length} readings`, "font-size": "12", "font-family": "Liberation Sans, Arial, Helvetica, sans-serif" });
  const step = round(hi - lo);
  for (let c = Math.ceil(lo / step) * step; c <= hi; c += step) {
    s.append(svg("line", { x1: left, x2: W - right, y1: y(c), y2: y(c), stroke: Math.abs(c) < step / 2 ? "var(--text)" : "var(--grid)" }));
    s.append(svg("text", { x: left - 5, y: y(c) + 4, "text-anchor": "end", fill: "var(--text)" }, plain(c)));
  }
  const across = round(xMax);
  for (let v = 0; v <= xMax; v += across) s.append(svg("text", { x: x(v), y: H - bottom + 16, "text-anchor": "middle", fill: "var(--text)" }, plain(v)));
  s.append(svg("text", { x: (left + W) / 2, y: H - 4, "text-anchor": "middle", fill: "var(--text)" }, "speed, km/h"), svg("text", { x: 4, y: 13, fill: "var(--text)" }, "late, cm"));
  for (const move of ["lift", "drop"]) {
    const t = a[move];
    if (!t) continue;
    const colour = move === "lift" ? "var(--lift)" : "var(--drop)";
    const place = t.placeErrorM ?? 0;
    const from = t.parted || !t.line.oneSpeed ? 0 : Math.max(0, 3.6 * t.meanMps - 1);
    const to = t.parted || !t.line.oneSpeed ? xMax : Math.min(xMax, 3.6 * t.meanMps + 1);
    const at = (v) => y(Math.max(lo, Math.min(hi, 100 * (place + (t.timeErrorS * v) / 3.6))));
    s.append(svg("line", { x1: x(from), y1: at(from), x2: x(to), y2: at(to), stroke: colour, "stroke-width": "2", "stroke-dasharray": move === "lift" ? "none" : "6 4" }));
    const out = new Set(t.leftOut.map((l) => l.row));
    for (const r of list.filter((r) => r.move === move)) {
      const [px, py] = [x(3.6 * r.speedMps), y(100 * r.lateM)];
      if (out.has(r.row)) s.append(svg("path", { d: `M${px - 5} ${py - 5}l10 10m0 -10l-10 10`, stroke: "var(--late)", "stroke-width": "2.5", fill: "none" }));
      else if (move === "lift") s.append(svg("circle", { cx: px, cy: py, r: 4.5, fill: colour }));
      else s.append(svg("rect", { x: px - 4, y: py - 4, width: 8, height: 8, fill: "none", stroke: colour, "stroke-width": "2" }));
    }
  }
  $("plot").replaceChildren(s);
}

function showList(a) {
  const out = new Set(["lift", "drop"].flatMap((m) => (a[m]?.leftOut ?? []).map((l) => l.row)));
  $("list").replaceChildren(
    ...state.readings.map((r, i) => {
      const li = element("li");
      const more = [r.section ? `section ${r.section}` : "", r.direction, r.oil == null ? "" : typeof r.oil === "number" ? `oil ${r.oil} °C` : `oil ${r.oil}`].filter(Boolean).join(", ");
      li.append(element("span", `${i + 1}. ${r.move}, ${plain(r.kmh)} km/h, ${signed(r.cm, r.cm % 1 ? 1 : 0)} cm${more ? `, ${more}` : ""}${out.has(i + 2) ? " (left out)" : ""}`));
      const b = element("button", "Delete", { type: "button", "aria-label": `Delete reading ${i + 1}` });
      b.addEventListener("click", () => {
        state.readings.splice(i, 1);
        changed();
      });
      li.append(b);
      return li;
    }),
  );
  $("kept").textContent = !state.readings.length ? "None yet." : keeps ? `${state.readings.length} kept in this browser until you delete them.` : "This browser keeps nothing: share or save the readings before you close the page.";
  for (const id of ["share", "save", "print", "clear"]) $(id).disabled = !state.readings.length;
  $("share").hidden = typeof navigator.share !== "function";
}

function showSpeeds(w) {
  $("speeds").replaceChildren(
    ...[w.slowMps, w.fastMps].map((mps) => {
      const b = element("button", `${plain(3.6 * mps)} km/h`, { type: "button" });
      b.addEventListener("click", () => {
        $("speed").value = plain(3.6 * mps);
      });
      return b;
    }),
  );
}

function show() {
  const w = wanted();
  const a = find(readings(), w);
  showAnswer(a, w);
  showPlot(a);
  showList(a);
  showSpeeds(w);
  sure = false;
  $("clear").textContent = "Delete all readings";
}

function changed() {
  keep();
  show();
}

// entered reads the form; it returns what is wrong, or the reading.
function entered() {
  const kmh = number($("speed").value);
  if (!(kmh >= 0.1 && kmh <= 40)) return { wrong: "Speed: expected 0.1 to 40 km/h.", at: "speed" };
  const cm = number($("late").value);
  if (!(Math.abs(cm) <= 2000)) return { wrong: "Way from the flag line: expected 0 to 2000 cm.", at: "late" };
  const move = document.querySelector("input[name=move]:checked").value;
  const r = { move, kmh, cm: cm * Number(document.querySelector("input[name=side]:checked").value) };
  if (Object.is(r.cm, -0)) r.cm = 0;
  for (const [id, name] of [[`${move}-lead`, "leadMs"], ["antenna", "antennaM"]]) {
    if (!$(id).value.trim()) continue;
    if (field(id) == null) {
      $("set").open = true;
      return { wrong: `What is set: expected ${ranges[id].join(" to ")} ${id === "antenna" ? "m" : "ms"}.`, at: id };
    }
    r[name] = field(id);
  }
  const section = $("section").value.trim().toLowerCase();
  if (section && section !== "all") {
    if (!/^\d+$/.test(section) || !(section >= 1 && section <= 256)) return { wrong: "Section: expected 1 to 256, or nothing.", at: "section" };
    r.section = Number(section);
  }
  r.direction = $("direction").value.trim().toLowerCase();
  const oil = $("oil").value.trim().toLowerCase();
  if (oil) {
    const c = number(oil.replace(/\s*°?c?$/, ""));
    if (oil === "cold" || oil === "warm") r.oil = oil;
    else if (c >= -30 && c <= 120) r.oil = c;
    else return { wrong: "Oil: expected cold, warm or -30 to 120 °C.", at: "oil" };
  }
  return { reading: r };
}

$("entry").addEventListener("submit", (event) => {
  event.preventDefault();
  const { wrong, at, reading } = entered();
  $("wrong").textContent = wrong ?? "";
  if (wrong) {
    $(at).closest("details")?.setAttribute("open", "");
    $(at).focus();
    return;
  }
  state.readings.push(reading);
  $("late").value = "";
  changed();
  $("answer-title").scrollIntoView({ block: "start" });
});

for (const id of settings) {
  $(id).addEventListener("input", () => {
    state.fields[id] = $(id).value;
    changed();
  });
}

const file = () => new File([csv(readings())], "readings.csv", { type: "text/csv" });

$("share").addEventListener("click", async () => {
  const f = file();
  try {
    await navigator.share(navigator.canShare?.({ files: [f] }) ? { files: [f], title: "Readings" } : { title: "Readings", text: csv(readings()) });
    $("done").textContent = "Shared.";
  } catch (e) {
    $("done").textContent = e.name === "AbortError" ? "" : "Sharing is not allowed here: save the file and send it.";
  }
});

$("save").addEventListener("click", () => {
  const url = URL.createObjectURL(file());
  const a = element("a", "", { href: url, download: "readings.csv" });
  document.body.append(a);
  a.click();
  a.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
  $("done").textContent = "Saved as readings.csv, where this browser puts downloads.";
});

$("print").addEventListener("click", () => window.print());

let sure = false;
$("clear").addEventListener("click", () => {
  if (!sure) {
    sure = true;
    $("clear").textContent = "Really delete all? Press again.";
    return;
  }
  state.readings = [];
  changed();
  $("done").textContent = "Deleted.";
});

// Another window of this page may have changed what is kept.
addEventListener("storage", (event) => {
  if (event.key !== key) return;
  load();
  show();
});

load();
for (const id of settings) $(id).value = state.fields[id] ?? "";
show();
