// The page: readings in, what to set out, kept in the browser; in the browser's language.

import { atStandstill, csv, find, number, wish, withinM } from "./tape.js";

const key = "liftbench.measure";
const $ = (id) => document.getElementById(id);
const settings = ["lift-lead", "drop-lead", "antenna", "want", "slow", "fast", "at", "direction", "oil", "section", "over", "fps", "working", "raised", "sections"];
const usual = { want: "40", slow: "4", fast: "10", at: "8", over: "30", fps: "30", working: "3", raised: "15" };
const ranges = { "lift-lead": [0, 10000], "drop-lead": [0, 10000], antenna: [-30, 30], want: [5, 1000], slow: [0.5, 36], fast: [0.5, 36], at: [0.5, 36], over: [0.1, 1000], fps: [1, 10000], working: [0.1, 50], raised: [0.1, 400], sections: [1, 256] };

// The language is the one that the page was written in, or else the first that the browser asks for.
const spoken = ["en", "de", "fr"];
const lang = [document.documentElement.dataset.lang, ...navigator.languages.map((l) => l.slice(0, 2).toLowerCase())].find((l) => spoken.includes(l)) ?? "en";
document.documentElement.lang = lang;
const plural = new Intl.PluralRules(lang);

// fixed is a number with so many decimals; signed has a sign before what is above zero too; plain has no
// decimals that are zero.
const fixed = (x, decimals) => {
  const s = new Intl.NumberFormat(lang, { minimumFractionDigits: decimals, maximumFractionDigits: decimals, useGrouping: false }).format(x).replace("-", "−");
  return /[1-9]/.test(s) ? s : s.replace("−", "");
};
const signed = (x, decimals) => (x > 0 && /[1-9]/.test(fixed(x, decimals)) ? "+" : "") + fixed(x, decimals);
const plain = (x) => fixed(Math.round(x * 100) / 100, 2).replace(/[.,]?0+$/, "");

// text is that of a key in the page's language, with values in the place of names in braces; n chooses the
// plural.
function text(id, values = {}) {
  const forms = [texts[id][lang]].flat();
  const form = forms[forms.length > 1 && plural.select(values.n) !== "one" ? 1 : 0];
  return form.replace(/\{(\w+)\}/g, (all, name) => (name in values ? values[name] : all));
}

const moveWord = (move) => (move === "drop" ? text("drop") : text("lift"));
const leadWord = (move) => (move === "drop" ? text("drop.lead") : text("lift.lead"));
const termWord = (term) => (term === "direction" ? text("term.direction") : term === "oil" ? text("term.oil") : text("term.section"));
const eventWord = (event) => ({ moves: text("page.event.moves"), out: text("page.event.out"), raised: text("page.event.raised"), falls: text("page.event.falls"), in: text("page.event.in"), depth: text("page.event.depth") })[event];
const oilWord = (oil) => (oil === "cold" ? text("cold") : oil === "warm" ? text("warm") : `${plain(oil)} °C`);

// A reading as it is kept: numbers as they were typed, in the units of the field.
let state = { readings: [], fields: { ...usual } };
let keeps = true;

function load() {
  try {
    const kept = JSON.parse(localStorage.getItem(key) ?? "null");
    if (kept && Array.isArray(kept.readings) && typeof kept.fields === "object") {
      const fine = (r) => (r?.event ? r.seconds > 0 || r.fps > 0 : ["lift", "drop"].includes(r?.move) && (r.kmh > 0 || r.seconds > 0) && Number.isFinite(r.cm));
      state = { readings: kept.readings.filter(fine), fields: { ...usual, ...kept.fields } };
      state.readings.forEach((r, i) => (r.pass ??= i + 1));
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

// readings are those that the computation takes; the heading of the CSV is row 1.
const readings = () =>
  state.readings.map((r, i) =>
    r.event
      ? { row: i + 2, event: r.event, sections: r.sections ?? 0, seconds: r.seconds ?? null, frames: r.frames ?? null, fps: r.fps ?? null, oil: r.oil ?? null }
      : {
          row: i + 2,
          pass: String(r.pass),
          move: r.move,
          speedMps: r.overM ? r.overM / r.seconds : r.kmh / 3.6,
          seconds: r.overM ? r.seconds : null,
          overM: r.overM ?? null,
          lateM: r.cm / 100,
          leadS: r.leadMs == null ? null : r.leadMs / 1000,
          antennaM: r.antennaM ?? null,
          section: r.section ?? 0,
          oil: r.oil ?? null,
          direction: r.direction ?? "",
        },
  );

const heights = () => ({ workingM: (field("working") ?? 3) / 100, raisedM: (field("raised") ?? 15) / 100, sections: field("sections") ?? 0 });

function wanted() {
  const w = wish();
  w.wantS = (field("want") ?? 40) / 1000;
  const slow = field("slow") ?? 4;
  const fast = field("fast") ?? 10;
  [w.slowMps, w.fastMps] = slow + 1 <= fast ? [slow / 3.6, fast / 3.6] : [4 / 3.6, 10 / 3.6];
  w.atMps = (field("at") ?? 8) / 3.6;
  return w;
}

function leadLine(move, t) {
  const only = t.parted ? "" : !t.line.oneSpeed ? text("only.place") : text("only.speed", { speed: fixed(3.6 * t.meanMps, 1) });
  const values = { lead: leadWord(move), half: fixed(1000 * t.half, 0), only };
  if (t.leadMs == null) {
    values.change = fixed(Math.abs(1000 * t.timeErrorS), 0);
    return t.timeErrorS < 0 ? text("lead.shorter", values) : text("lead.longer", values);
  }
  [values.from, values.to] = [fixed(t.leadSetMs, 0), fixed(t.leadMs, 0)];
  return t.leadMs < 0 ? text("lead.zero", values) : text("lead.set", values);
}

function distanceLine(d) {
  if (!d.known) return "";
  if (d.differ) return text("distance.differ");
  const values = { cm: signed(100 * d.errorM, 1), low: signed(100 * d.ci95[0], 1), high: signed(100 * d.ci95[1], 1), size: fixed(Math.abs(100 * d.errorM), 0) };
  if (!d.change) return text("distance.chance", values);
  if (d.newM != null) return text("distance.set", { ...values, from: fixed(d.setM, 2), to: fixed(d.newM, 2) });
  return d.errorM > 0 ? text("distance.less", values) : text("distance.more", values);
}

function effectLine(e, count) {
  const name = e.term === "section" ? text("effect.section", { number: e.section }) : e.term === "direction" ? text("effect.ways", { one: e.ways[0], other: e.ways[1] }) : e.kelvin ? text("effect.kelvin") : text("effect.oil");
  const size = e.placeM ? text("effect.place", { cm: signed(100 * e.placeM, 1), half: fixed(100 * e.half, 1) }) : text("effect.time", { ms: signed(1000 * e.timeS, 0), half: fixed(1000 * e.half, 0) });
  const beyond = Math.abs(e.timeS) + Math.abs(e.placeM) > e.half * Math.sqrt(1 + Math.log(count));
  return beyond ? text("effect.beyond", { name, size }) : text("effect.chance", { name, size });
}

function leftOutLine(l) {
  const n = 1 / l.chance;
  const sheets = n > 1e6 ? text("sheets.million") : n > 1000 ? text("sheets.thousand", { n: Math.round(n / 1000) }) : text("sheets", { n: Math.round(n) });
  const values = { cm: signed(100 * l.offM, 0), sheets };
  return text("page.out", { row: l.row - 1, why: l.whole ? text("out.whole", values) : text("out.one", values) });
}

// doubtLine says what readings cannot tell.
function doubtLine(d) {
  const move = moveWord(d.move);
  switch (d.about) {
    case "which": {
      const rows = d.rows.map((r) => r - 1);
      return text("which", { move, rows: text("page.rows", { list: rows.slice(0, -1).join(", "), last: rows.at(-1) }) });
    }
    case "few": return text("few", { move, term: termWord(d.term), n: d.count });
    case "together": return text("together", { move, term: termWord(d.term) });
    case "scatter": return text("scatter", { move, n: d.count, cm: fixed(100 * d.first, 0) });
    case "place": return text("place", { move, n: d.count });
    case "speed": return text("speed", { move, speed: fixed(3.6 * d.first, 1) });
    case "distance": return text("distance", { lift: signed(100 * d.first, 0), drop: signed(100 * d.last, 0) });
    case "never": return text("never", { move, ms: fixed(1000 * d.first, 0), n: d.count, cm: fixed(100 * d.last, 0) });
    case "still lift": return text("still.lift");
    case "still lift events": return text("still.lift.events");
    case "still pump": return text("still.pump");
    case "still pump scatter": return text("still.pump.scatter");
    case "still drop": return text("still.drop");
    case "still drop events": return text("still.drop.events");
  }
  return d.about;
}

// stillParts say what times at standstill tell.
function stillParts(s) {
  const lines = [
    [text("still.liftdead"), s.liftDeadS],
    [text("still.stroke"), s.strokeS],
    [text("still.strokeall"), s.strokeAll],
    [text("still.dropdead"), s.dropDeadS],
    [text("still.fall"), s.fallS],
  ].filter(([, w]) => w).map(([name, w]) => `${name} ${text("still.seconds", { s: fixed(w.value, 2), half: fixed((w.ci95[1] - w.ci95[0]) / 2, 2) })}`);
  if (s.fed) {
    const [count, low, high] = [s.fed.value, ...s.fed.ci95].map((x) => fixed(x, 1));
    lines.push(`${text("still.pump.name")} ${s.fedAll ? text("still.fedall", { low }) : text("still.fed", { count, low, high })}`);
  }
  const title = s.oil == null ? text("still") : text("still.oil", { oil: oilWord(s.oil) });
  return [...bullets(title, lines, "h3"), ...bullets(text("cannot.still"), s.cannotTell.map(doubtLine))];
}

function element(tag, content, attributes = {}) {
  const e = document.createElement(tag);
  if (content) e.textContent = content;
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  return e;
}

function bullets(title, items, tag = "p") {
  if (!items.length) return [];
  const ul = element("ul");
  ul.append(...items.map((item) => element("li", item)));
  return [element(tag, title), ul];
}

function showAnswer(a, still, w) {
  const parts = [];
  const both = ["lift", "drop"];
  for (const move of both) if (a[move]) parts.push(element("p", leadLine(move, a[move]), { class: "answer" }));
  const distance = distanceLine(a.distance);
  if (distance) parts.push(element("p", distance));
  const [lift, drop] = both.map((m) => withinM(a, m, w.atMps));
  const within = [lift != null ? text("within.lift", { cm: fixed(100 * lift, 1) }) : "", drop != null ? text("within.drop", { cm: fixed(100 * drop, 1) }) : ""].filter(Boolean);
  if (within.length) parts.push(element("p", text("within", { list: within.join(", "), speed: plain(3.6 * w.atMps) })));
  for (const move of both) {
    const effects = a[move]?.effects ?? [];
    parts.push(...bullets(move === "lift" ? text("effects.lift") : text("effects.drop"), effects.map((e) => effectLine(e, effects.length))));
  }
  parts.push(...bullets(text("out"), both.flatMap((m) => (a[m]?.leftOut ?? []).map(leftOutLine))));
  parts.push(...bullets(text("cannot"), a.cannotTell.map(doubtLine)));
  for (const s of still) parts.push(...stillParts(s));
  if (!parts.length) parts.push(element("p", text("page.nothing")));
  $("answer").replaceChildren(...parts);
  const more = a.next.map((n) => text("next.more", { n: n.passes, speed: plain(n.speedKmh) }));
  const list = more.length > 1 ? text("and", { one: more[0], other: more[1] }) : more[0];
  const first = [...a.next].sort((x, y) => y.passes - x.passes)[0];
  if (!a.lift && !a.drop) $("next").textContent = text("page.next.first", { speed: plain(3.6 * w.slowMps) });
  else if (first) $("next").textContent = text("page.next", { speed: plain(first.speedKmh), bring: text("next.bring", { passes: list, ms: plain(1000 * w.wantS) }).replace(/\.$/, "") });
  else $("next").textContent = text("next.hold", { speed: plain(3.6 * w.atMps) });
}

const svgNS = "http://www.w3.org/2000/svg";
function svg(tag, attributes, content) {
  const e = document.createElementNS(svgNS, tag);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, typeof v === "number" ? v.toFixed(1) : v);
  if (content) e.textContent = content;
  return e;
}

// round is 1, 2 or 5 times a power of ten, about a fifth of a span.
function round(span) {
  const p = 10 ** Math.floor(Math.log10(span / 5));
  return [1, 2, 5, 10].map((k) => k * p).find((s) => span / s <= 6);
}

function showPlot(a, list) {
  const [W, H, left, right, top, bottom] = [360, 260, 44, 8, 20, 36];
  const kmh = list.map((r) => 3.6 * r.speedMps);
  const cm = list.map((r) => 100 * r.lateM);
  const xMax = Math.max(10, ...kmh) * 1.05;
  let [lo, hi] = [Math.min(0, ...cm), Math.max(10, ...cm)];
  [lo, hi] = [lo - 0.08 * (hi - lo), hi + 0.08 * (hi - lo)];
  const x = (v) => left + ((W - left - right) * v) / xMax;
  const y = (c) => top + ((H - top - bottom) * (hi - c)) / (hi - lo);
  const s = svg("svg", { viewBox: `0 0 ${W} ${H}`, role: "img", "aria-label": text("page.plot.label", { n: list.length }), "font-size": "12", "font-family": "Liberation Sans, Arial, Helvetica, sans-serif" });
  const step = round(hi - lo);
  for (let c = Math.ceil(lo / step) * step; c <= hi; c += step) {
    s.append(svg("line", { x1: left, x2: W - right, y1: y(c), y2: y(c), stroke: Math.abs(c) < step / 2 ? "var(--text)" : "var(--grid)" }));
    s.append(svg("text", { x: left - 5, y: y(c) + 4, "text-anchor": "end", fill: "var(--text)" }, plain(c)));
  }
  const across = round(xMax);
  for (let v = 0; v <= xMax; v += across) s.append(svg("text", { x: x(v), y: H - bottom + 16, "text-anchor": "middle", fill: "var(--text)" }, plain(v)));
  s.append(svg("text", { x: (left + W) / 2, y: H - 4, "text-anchor": "middle", fill: "var(--text)" }, text("page.plot.x")), svg("text", { x: 4, y: 13, fill: "var(--text)" }, text("page.plot.y")));
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
  const before = new Set();
  $("list").replaceChildren(
    ...readings().map((r, i) => {
      const li = element("li");
      const row = i + 1;
      let line = "";
      const more = [];
      if (r.event) {
        const sections = r.sections ? text("page.row.atonce", { n: r.sections }) : text("page.row.all");
        line = text("page.row.still", { row, event: eventWord(r.event), sections, s: fixed(r.fps ? r.frames / r.fps : r.seconds, 2) });
      } else {
        line = text("page.row.pass", { row, move: moveWord(r.move), speed: plain(3.6 * r.speedMps), cm: signed(100 * r.lateM, Math.round(1000 * r.lateM) % 10 ? 1 : 0) });
        if (r.section) more.push(text("effect.section", { number: r.section }));
        if (r.direction) more.push(r.direction);
        if (before.has(r.pass)) more.push(text("page.row.same"));
        before.add(r.pass);
      }
      if (r.oil != null) more.push(text("page.row.oil", { oil: oilWord(r.oil) }));
      if (out.has(r.row)) more.push(text("page.row.out"));
      li.append(element("span", [line, ...more].join(", ")));
      const b = element("button", text("page.delete"), { type: "button", "aria-label": text("page.delete.one", { row }) });
      b.addEventListener("click", () => {
        state.readings.splice(i, 1);
        changed();
      });
      li.append(b);
      return li;
    }),
  );
  const n = state.readings.length;
  $("kept").textContent = !n ? text("page.none") : keeps ? text("page.kept", { n }) : text("page.notkept");
  for (const id of ["share", "save", "print", "clear"]) $(id).disabled = !n;
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
  const list = readings();
  const passes = list.filter((r) => !r.event);
  const a = find(passes, w);
  showAnswer(a, atStandstill(list.filter((r) => r.event), heights()), w);
  showPlot(a, passes);
  showList(a);
  showSpeeds(w);
  $("same").hidden = !passes.length;
  if (!passes.length) document.querySelector("input[name=same][value=new]").checked = true;
  showForm();
  sure = false;
  $("clear").textContent = text("page.clear");
}

function changed() {
  keep();
  show();
}

const chosen = (name) => document.querySelector(`input[name=${name}]:checked`).value;

// showForm shows the fields of what is entered.
function showForm() {
  const still = chosen("kind") === "still";
  [$("pass").hidden, $("standing").hidden] = [still, !still];
  $("how-fast").hidden = chosen("same") === "same"; // its speed is known
  [$("by-kmh").hidden, $("by-seconds").hidden] = [chosen("by") === "seconds", chosen("by") !== "seconds"];
  [$("by-watch").hidden, $("by-video").hidden] = [chosen("timer") === "video", chosen("timer") !== "video"];
}

// label is what stands above a field.
const label = (id) => $(id).closest("label").querySelector("span").textContent;

// typed is the number in a field; it throws what is wrong.
function typed(id, low, high) {
  const x = number($(id).value);
  if (!(x >= low && x <= high)) throw { wrong: text("page.wrong", { field: label(id), low: plain(low), high: plain(high) }), at: id };
  return x;
}

// oilTyped is what the field says of the oil; null where it is empty.
function oilTyped() {
  const oil = $("oil").value.trim().toLowerCase();
  if (!oil) return null;
  if (["cold", "kalt", "froid", "froide"].includes(oil)) return "cold";
  if (["warm", "chaud", "chaude"].includes(oil)) return "warm";
  const c = number(oil.replace(/\s*°?c?$/, ""));
  if (!(c >= -30 && c <= 120)) throw { wrong: text("page.wrong.oil"), at: "oil" };
  return c;
}

// standing is the time at standstill in the form.
function standing() {
  const r = { event: chosen("event") };
  if ($("atonce").value.trim()) r.sections = Math.round(typed("atonce", 1, 256));
  if (chosen("timer") === "video") [r.frames, r.fps] = [typed("frames", 0, 100000), typed("fps", 1, 10000)];
  else r.seconds = typed("time", 0.001, 600);
  return r;
}

// passing is the reading behind a pass in the form.
function passing() {
  const passes = state.readings.filter((r) => !r.event);
  const last = passes.at(-1);
  const r = { pass: Math.max(0, ...passes.map((p) => p.pass)) + 1, move: chosen("move"), direction: $("direction").value.trim().toLowerCase() };
  if (last && chosen("same") === "same") for (const k of ["pass", "kmh", "seconds", "overM", "direction"]) r[k] = last[k];
  else if (chosen("by") === "seconds") {
    [r.seconds, r.overM] = [typed("seconds", 0.1, 3600), typed("over", 0.1, 1000)];
    const kmh = (3.6 * r.overM) / r.seconds;
    if (!(kmh >= 0.1 && kmh <= 40)) throw { wrong: text("page.wrong", { field: text("page.speed"), low: plain(0.1), high: "40" }), at: "seconds" };
  } else r.kmh = typed("speed", 0.1, 40);
  r.cm = typed("late", -2000, 2000) * Number(chosen("side"));
  if (Object.is(r.cm, -0)) r.cm = 0;
  for (const [id, name] of [[`${r.move}-lead`, "leadMs"], ["antenna", "antennaM"]]) if ($(id).value.trim()) r[name] = typed(id, ...ranges[id]);
  const section = $("section").value.trim().toLowerCase();
  if (section && !["all", "alle", "tous"].includes(section)) {
    if (!/^\d+$/.test(section) || !(section >= 1 && section <= 256)) throw { wrong: text("page.wrong.section"), at: "section" };
    r.section = Number(section);
  }
  return r;
}

$("entry").addEventListener("submit", (event) => {
  event.preventDefault();
  $("wrong").textContent = "";
  try {
    const r = chosen("kind") === "still" ? standing() : passing();
    const oil = oilTyped();
    if (oil != null) r.oil = oil;
    state.readings.push(r);
  } catch (e) {
    if (!e.wrong) throw e;
    $("wrong").textContent = e.wrong;
    $(e.at).closest("details")?.setAttribute("open", "");
    $(e.at).focus();
    return;
  }
  for (const id of ["late", "seconds", "time", "frames"]) $(id).value = "";
  document.querySelector("input[name=same][value=new]").checked = true;
  changed();
  $("answer-title").scrollIntoView({ block: "start" });
});

for (const name of ["kind", "same", "by", "timer"]) for (const e of document.querySelectorAll(`input[name=${name}]`)) e.addEventListener("change", showForm);

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
    await navigator.share(navigator.canShare?.({ files: [f] }) ? { files: [f], title: text("page.list") } : { title: text("page.list"), text: csv(readings()) });
    $("done").textContent = text("page.shared");
  } catch (e) {
    $("done").textContent = e.name === "AbortError" ? "" : text("page.notshared");
  }
});

$("save").addEventListener("click", () => {
  const url = URL.createObjectURL(file());
  const a = element("a", "", { href: url, download: "readings.csv" });
  document.body.append(a);
  a.click();
  a.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
  $("done").textContent = text("page.saved");
});

$("print").addEventListener("click", () => window.print());

let sure = false;
$("clear").addEventListener("click", () => {
  if (!sure) {
    sure = true;
    $("clear").textContent = text("page.clear.sure");
    return;
  }
  state.readings = [];
  changed();
  $("done").textContent = text("page.deleted");
});

// Another window of this page may have changed what is kept.
addEventListener("storage", (event) => {
  if (event.key !== key) return;
  load();
  show();
});

for (const e of document.querySelectorAll("[data-text]")) e.textContent = text(e.dataset.text);
$("safety").textContent = texts["safety.words"][lang];
load();
for (const id of settings) $(id).value = state.fields[id] ?? "";
show();
