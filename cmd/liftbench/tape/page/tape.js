// What readings with a tape tell: the line through place errors over speed, e = Δx + v·Δt, with the
// same computation as package replay/tape. No reading leaves the page for it.

const floorM = 0.003; // least scatter that is believed
const oneSpeedMps = 1 / 3.6; // within it speeds count as one
const slipAt = 0.01; // chance at which a reading no longer counts
const alpha = 0.02; // chance at which another reading might be the wrong one as well
const freeRows = 3; // beyond the coefficients, for a further term
const mostNext = 60; // passes asked for at most
const z95 = 1.959964; // normal quantile of two-sided 95 %

// inside is the probability that Student's t with df degrees of freedom, a whole number, is between
// -t and t: finite sums of powers of cos θ, tan θ = t/√df (Abramowitz and Stegun 26.7.3 and 26.7.4;
// from memory).
export function inside(t, df) {
  if (t <= 0) return 0;
  const root = Math.sqrt(df + t * t);
  const sin = t / root;
  const cos = Math.sqrt(df) / root;
  let sum = 0;
  let power = df % 2 ? cos : 1;
  for (let k = df % 2 ? 2 : 1; k < df; k += 2) {
    sum += power;
    power *= (k / (k + 1)) * cos * cos;
  }
  if (df % 2 === 0) return sin * sum;
  return (2 / Math.PI) * (Math.atan2(t, Math.sqrt(df)) + sin * sum);
}

// quantile is the t that Student's t exceeds in size with the probability p, both sides together.
export function quantile(p, df) {
  let lo = 0;
  let hi = 1;
  while (inside(hi, df) < 1 - p) hi *= 2;
  for (let i = 0; i < 200 && hi - lo > 1e-15 * hi; i++) {
    const mid = (lo + hi) / 2;
    if (inside(mid, df) < 1 - p) lo = mid;
    else hi = mid;
  }
  return (lo + hi) / 2;
}

const dot = (a, b) => a.reduce((sum, x, i) => sum + x * b[i], 0);

// inverse is that of a positive definite matrix, by Cholesky, with its condition number; null if it is
// not positive definite.
function inverse(a) {
  const n = a.length;
  const l = a.map(() => new Array(n).fill(0));
  for (let j = 0; j < n; j++) {
    for (let i = j; i < n; i++) {
      let sum = a[i][j];
      for (let k = 0; k < j; k++) sum -= l[i][k] * l[j][k];
      if (i > j) l[i][j] = sum / l[j][j];
      else if (sum > 0) l[j][j] = Math.sqrt(sum);
      else return null;
    }
  }
  const inv = a.map(() => new Array(n).fill(0));
  for (let c = 0; c < n; c++) {
    const x = new Array(n).fill(0);
    for (let i = 0; i < n; i++) {
      x[i] = i === c ? 1 : 0;
      for (let k = 0; k < i; k++) x[i] -= l[i][k] * x[k];
      x[i] /= l[i][i];
    }
    for (let i = n - 1; i >= 0; i--) {
      for (let k = i + 1; k < n; k++) x[i] -= l[k][i] * x[k];
      x[i] /= l[i][i];
      inv[i][c] = x[i];
    }
  }
  const norm = (m) => Math.max(...m.map((_, j) => m.reduce((s, row) => s + Math.abs(row[j]), 0)));
  return { inv, condition: norm(a) * norm(inv) };
}

const predict = (beta, cols, n) => Array.from({ length: n }, (_, r) => beta.reduce((s, b, i) => s + b * cols[i][r], 0));

const quadratic = (inv, z) => z.reduce((s, zi, i) => s + zi * dot(inv[i], z), 0);

// least fits y by least squares of the columns; null if there are too few rows or the columns cannot be
// told apart.
export function least(cols, y) {
  const n = y.length;
  const df = n - cols.length;
  if (df < 1) return null;
  const scale = cols.map((c) => 1 / Math.sqrt(dot(c, c)));
  if (scale.some((s) => !Number.isFinite(s))) return null;
  const solved = cols.length ? inverse(cols.map((a, i) => cols.map((b, j) => dot(a, b) * scale[i] * scale[j]))) : { inv: [], condition: 1 };
  if (!solved || solved.condition > 1e9) return null;
  const inv = solved.inv.map((row, i) => row.map((x, j) => x * scale[i] * scale[j]));
  let beta = inv.map((row) => dot(row, cols.map((c) => dot(c, y))));
  let left = predict(beta, cols, n).map((f, i) => y[i] - f);
  // One step takes out what rounding in the sums of squares has left.
  beta = beta.map((b, i) => b + dot(inv[i], cols.map((c) => dot(c, left))));
  left = predict(beta, cols, n).map((f, i) => y[i] - f);
  const rss = dot(left, left);
  return { beta, inv, rss, df, left, sigma: Math.max(Math.sqrt(rss / df), floorM) };
}

// slipped finds the row that does not belong to the others: by its residual beside their line, with
// Student's t and Bonferroni. alike are others that would explain the scatter as well. taken is the
// leverage that rows have by the means that were taken from them.
function slipped(f, cols, taken) {
  const n = f.left.length;
  if (f.df < 2) return { row: -1, p: 1, alike: [] };
  let row = -1;
  const without = [];
  const chance = [];
  const own = [];
  for (let r = 0; r < n; r++) {
    own[r] = 1 - quadratic(f.inv, cols.map((c) => c[r])) - (taken?.[r] ?? 0);
    if (own[r] < 1e-9) {
      without[r] = f.rss;
      chance[r] = 1;
      continue;
    }
    without[r] = Math.max(0, f.rss - (f.left[r] * f.left[r]) / own[r]);
    const s = Math.max(Math.sqrt(without[r] / (f.df - 1)), floorM);
    chance[r] = Math.min(1, n * (1 - inside(Math.abs(f.left[r] / (s * Math.sqrt(own[r]))), f.df - 1)));
    if (row < 0 || without[r] < without[row]) row = r;
  }
  if (row < 0) return { row, p: 1, alike: [] };
  const enough = 2 * without[row] + floorM * floorM;
  const alike = [];
  for (let r = 0; r < n; r++) if (r !== row && chance[r] < alpha && without[r] <= enough) alike.push(r);
  return { row, p: chance[row], alike, offM: f.left[row] / own[row] };
}

const doubt = (about, fields) => ({ about, move: "lift", term: "", rows: null, count: 0, first: 0, last: 0, ...fields });

// passesOf are the readings of each pass: of one name, speed and direction; one without a name is a pass of
// its own.
function passesOf(list) {
  const at = new Map();
  const out = [];
  list.forEach((r, i) => {
    const key = JSON.stringify([r.pass || "", r.direction || "", r.speedMps]);
    if (!r.pass || !at.has(key)) {
      at.set(key, out.length);
      out.push([]);
    }
    out[at.get(key)].push(i);
  });
  return out;
}

const meanOf = (pass, x) => pass.reduce((s, i) => s + x[i], 0) / pass.length;

// besidePass fits columns of sections to what readings have beside the others of their pass; null if that
// tells nothing.
function besidePass(passes, cols, y) {
  const less = (x) => {
    const out = [];
    for (const p of passes) {
      const m = meanOf(p, x);
      for (const i of p) out[i] = x[i] - m;
    }
    return out;
  };
  const shares = [];
  for (const p of passes) for (const i of p) shares[i] = 1 / p.length;
  const own = cols.map(less);
  const fit = least(own, less(y));
  if (!fit || fit.df - passes.length < 1) return null;
  fit.df -= passes.length;
  fit.sigma = Math.max(Math.sqrt(fit.rss / fit.df), floorM);
  return { fit, cols: own, shares };
}

// readingM is how far single readings scatter, where means of passes scatter by passM.
const readingM = (beside, passes, passM) => Math.sqrt(passM * passM + beside.fit.sigma ** 2 * (1 - passes.reduce((s, p) => s + 1 / p.length / passes.length, 0)));

function count(list, key) {
  const m = new Map();
  for (const r of list) m.set(key(r), (m.get(key(r)) ?? 0) + 1);
  return m;
}

// directionTerm is a place more one way and less the other.
function directionTerm(list) {
  const m = count(list, (r) => r.direction || "");
  const names = [...m.keys()].sort((a, b) => (a < b ? -1 : a > b ? 1 : 0));
  if (names.length !== 2 || names[0] === "" || [...m.values()].some((n) => n < 2)) return null;
  return { what: "direction", cols: [list.map((r) => (r.direction === names[1] ? -0.5 : 0.5))], is: [{ term: "direction", ways: names }] };
}

// oilTerm is a time more for cold oil.
function oilTerm(list, v) {
  const cold = list.filter((r) => r.oil === "cold").length;
  const warm = list.filter((r) => r.oil === "warm").length;
  const degrees = list.filter((r) => typeof r.oil === "number").map((r) => r.oil);
  if (cold + warm + degrees.length < list.length) return null;
  if (cold >= 2 && warm >= 2 && cold + warm === list.length)
    return { what: "oil", cols: [list.map((r, i) => (r.oil === "cold" ? 0.5 : -0.5) * v[i])], is: [{ term: "oil", kelvin: false }] };
  if (cold + warm > 0 || !(Math.max(...degrees) - Math.min(...degrees) >= 10)) return null;
  const mean = degrees.reduce((s, c) => s + c / list.length, 0);
  return { what: "oil", cols: [list.map((r, i) => (v[i] * (mean - r.oil)) / 10)], is: [{ term: "oil", kelvin: true }] };
}

// sectionTerm is a time more or less for each section beside their mean.
function sectionTerm(list, v) {
  const m = count(list.filter((r) => r.section > 0), (r) => r.section);
  const numbers = [...m.keys()].sort((a, b) => a - b);
  if (numbers.length < 2 || [...m.values()].some((n) => n < 2)) return null;
  const last = numbers[numbers.length - 1];
  return {
    what: "section",
    cols: numbers.slice(0, -1).map((k) => list.map((r, i) => (r.section === k ? v[i] : r.section === last ? -v[i] : 0))),
    is: numbers.map((section) => ({ term: "section", section })),
  };
}

// line draws the line through readings of one move, each brought to what was set at last. Its rows are
// passes: the mean of the readings of each.
function line(list, leadS, antennaM, w) {
  const move = list[0].move;
  const v = list.map((r) => r.speedMps);
  let y = list.map((r) => {
    let e = r.lateM;
    if (r.leadS != null) e += r.speedMps * (r.leadS - leadS);
    if (r.antennaM != null) e -= r.antennaM - antennaM;
    return e;
  });
  const passes = passesOf(list);
  const n = passes.length;
  const oneSpeed = Math.max(...v) - Math.min(...v) < oneSpeedMps - 1e-9;
  const f = { oneSpeed, passes, place: -1, time: 0, terms: [], cannot: [] };
  const sections = sectionTerm(list, v);
  if (sections && list.some((r) => !r.pass)) f.cannot.push(doubt("unnamed", { move }));
  if (n < list.length) {
    f.beside = besidePass(passes, [], y);
    if (sections && list.length - n - sections.cols.length < freeRows) f.cannot.push(doubt("few", { move, term: "section", count: list.length }));
    else if (sections) {
      const b = besidePass(passes, sections.cols, y);
      if (!b) f.cannot.push(doubt("together", { move, term: "section", count: list.length }));
      else {
        [f.beside, f.inside] = [b, sections];
        const told = predict(b.fit.beta, sections.cols, list.length);
        y = y.map((x, i) => x - told[i]);
      }
    }
  }
  const heads = passes.map((p) => list[p[0]]);
  const speeds = heads.map((r) => r.speedMps);
  f.y = passes.map((p) => meanOf(p, y));
  f.cols = [speeds];
  if (n >= 3 && !oneSpeed) [f.cols, f.place, f.time] = [[speeds.map(() => 1), speeds], 0, 1];
  for (const t of [directionTerm(heads), oilTerm(heads, speeds), n === list.length ? sections : null]) {
    if (!t) continue;
    const wider = [...f.cols, ...t.cols];
    if (n - wider.length < freeRows) f.cannot.push(doubt("few", { move, term: t.what, count: n }));
    else if (!least(wider, f.y)) f.cannot.push(doubt("together", { move, term: t.what, count: n }));
    else {
      f.terms.push({ ...t, at: f.cols.length });
      f.cols = wider;
    }
  }
  f.fit = least(f.cols, f.y);
  if (!f.fit) {
    // One pass, or two: the time that explains them alone.
    [f.cols, f.place, f.time, f.terms] = [[speeds], -1, 0, []];
    f.fit = { beta: [dot(speeds, f.y) / dot(speeds, speeds)], df: 0, sigma: w.sigmaM };
  }
  return f;
}

// effects are the sizes of terms, with half of their intervals.
function effects(f) {
  const out = [];
  if (f.fit.df < 1) return out;
  const of = (t, fit, at) => {
    const q = quantile(0.05, fit.df);
    let sum = 0;
    const z = fit.beta.map(() => 0);
    t.is.forEach((e, k) => {
      let size = -sum;
      let half;
      if (k < t.cols.length) {
        size = fit.beta[at + k];
        half = q * fit.sigma * Math.sqrt(fit.inv[at + k][at + k]);
        sum += size;
        z[at + k] = 1;
      } else half = q * fit.sigma * Math.sqrt(quadratic(fit.inv, z));
      const place = e.term === "direction";
      out.push({ ...e, timeS: place ? 0 : size, placeM: place ? size : 0, half });
    });
  };
  for (const t of f.terms) of(t, f.fit, t.at);
  if (f.inside) of(f.inside, f.beside.fit, 0);
  return out;
}

// slip finds a reading that does not belong to the others of its pass, or else a pass that does not belong
// to the other passes.
function slip(f, move, used) {
  const which = [];
  const unsure = (rows) => which.push(doubt("which", { move, rows: rows.map((i) => used[i].row).sort((x, y) => x - y) }));
  if (f.beside) {
    const s = slipped(f.beside.fit, f.beside.cols, f.beside.shares);
    if (s.p < slipAt && !s.alike.length) return { rows: [s.row], offM: s.offM, chance: s.p, whole: false, which: [] };
    if (s.p < slipAt) unsure([s.row, ...s.alike]);
  }
  const s = f.fit.df < 2 ? { p: 1 } : slipped(f.fit, f.cols);
  if (s.p < slipAt && !s.alike.length) return { rows: f.passes[s.row], offM: s.offM, chance: s.p, whole: f.passes[s.row].length > 1, which };
  if (s.p < slipAt) unsure([s.row, ...s.alike].flatMap((r) => f.passes[r]));
  return { rows: null, which };
}

function timing(move, own, antennaM, w, a) {
  const set = own.findLast((r) => r.leadS != null);
  const leadS = set ? set.leadS : 0;
  let readings = Math.max(1, Math.floor(own.length / 5));
  let passes = Math.max(1, Math.floor(passesOf(own).length / 5));
  const leftOut = [];
  let used = own;
  let f;
  for (;;) {
    f = line(used, leadS, antennaM, w);
    const s = slip(f, move, used);
    if (s.rows && s.whole) passes--;
    else if (s.rows) readings--;
    if (!s.rows || passes < 0 || readings < 0) {
      a.cannotTell.push(...f.cannot, ...s.which);
      break;
    }
    for (const i of s.rows) leftOut.push({ row: used[i].row, offM: s.offM, chance: s.chance, whole: s.whole });
    used = used.filter((_, i) => !s.rows.includes(i));
  }
  const t = { count: used.length, passes: f.passes.length, leftOut, used, line: f, parted: f.place >= 0, sigmaM: f.fit.sigma, meanMps: used.reduce((s, r) => s + r.speedMps / used.length, 0) };
  if (f.fit.df >= 1 && f.beside) t.sigmaM = readingM(f.beside, f.passes, f.fit.sigma);
  t.timeErrorS = f.fit.beta[f.time];
  t.assumed = f.fit.df < 1;
  if (t.assumed) {
    t.half = (z95 * w.sigmaM) / Math.sqrt(dot(f.cols[0], f.cols[0]));
    a.cannotTell.push(doubt("scatter", { move, count: t.passes, first: w.sigmaM }));
  } else t.half = quantile(0.05, f.fit.df) * f.fit.sigma * Math.sqrt(f.fit.inv[f.time][f.time]);
  t.timeErrorCI95 = [t.timeErrorS - t.half, t.timeErrorS + t.half];
  t.placeErrorM = t.placeErrorCI95 = null;
  if (t.parted) {
    const half = quantile(0.05, f.fit.df) * f.fit.sigma * Math.sqrt(f.fit.inv[f.place][f.place]);
    t.placeErrorM = f.fit.beta[f.place];
    t.placeErrorCI95 = [t.placeErrorM - half, t.placeErrorM + half];
  } else if (!f.oneSpeed) a.cannotTell.push(doubt("place", { move, count: t.passes }));
  else a.cannotTell.push(doubt("speed", { move, first: t.meanMps }));
  t.leadSetMs = t.leadMs = t.leadCI95Ms = null;
  if (set) {
    t.leadSetMs = leadS * 1000;
    t.leadMs = t.leadSetMs + 1000 * t.timeErrorS;
    t.leadCI95Ms = [t.leadMs - 1000 * t.half, t.leadMs + 1000 * t.half];
  }
  t.effects = effects(f);
  return t;
}

// distance takes the places of lift and drop together: a wrong distance from antenna to tool shows in
// both alike.
function distance(a, antennaM) {
  const d = { known: false, change: false, differ: false, setM: antennaM };
  const both = [a.lift, a.drop].filter((t) => t?.parted);
  if (!both.length) return d;
  d.known = true;
  if (both.length === 1) [d.errorM, d.ci95] = [both[0].placeErrorM, both[0].placeErrorCI95];
  else {
    const [l, r] = both.map((t) => t.line);
    const n = l.y.length;
    const all = n + r.y.length;
    const y = [...l.y, ...r.y];
    const cols = [y.map(() => 1)];
    [l, r].forEach((f, k) => {
      for (const c of f.cols.slice(1)) {
        const wide = new Array(all).fill(0);
        c.forEach((x, i) => (wide[k * n + i] = x));
        cols.push(wide);
      }
    });
    const apart = y.map((_, i) => (i < n ? 0.5 : -0.5));
    const split = least([...cols, apart], y);
    if (split) {
      const last = cols.length;
      d.differ = 1 - inside(Math.abs(split.beta[last] / (split.sigma * Math.sqrt(split.inv[last][last]))), split.df) < 0.05;
    }
    const f = least(cols, y);
    if (!f) return { ...d, known: false };
    const half = quantile(0.05, f.df) * f.sigma * Math.sqrt(f.inv[0][0]);
    d.errorM = f.beta[0];
    d.ci95 = [d.errorM - half, d.errorM + half];
  }
  d.change = !d.differ && (d.ci95[0] > 0 || d.ci95[1] < 0);
  if (d.change && antennaM != null) d.newM = antennaM - d.errorM;
  if (d.differ) a.cannotTell.push(doubt("distance", { first: a.lift.placeErrorM, last: a.drop.placeErrorM }));
  return d;
}

// more is how many further passes at the two speeds bring the lead to what is wanted.
function more(t, w) {
  if (t.parted && t.half <= w.wantS) return { slow: 0, fast: 0, enough: true };
  const n = t.passes;
  const mps = t.line.passes.map((p) => t.used[p[0]].speedMps);
  const sum = mps.reduce((s, v) => s + v, 0);
  const squares = dot(mps, mps);
  let found = { slow: 0, fast: 0, enough: false };
  for (let k = 1; k <= mostNext; k++) {
    let best = Infinity;
    if (n + k < 3) continue;
    const q = quantile(0.05, n + k - 2);
    for (let s = 0; s <= k; s++) {
      const f = k - s;
      const sm = sum + s * w.slowMps + f * w.fastMps;
      const about = squares + s * w.slowMps * w.slowMps + f * w.fastMps * w.fastMps - (sm * sm) / (n + k);
      if (!(about > 1e-9)) continue;
      const half = (q * t.line.fit.sigma) / Math.sqrt(about);
      if (half < best * (1 - 1e-9)) {
        best = half;
        found = { slow: s, fast: f, enough: false };
      }
    }
    if (best <= w.wantS) return { ...found, enough: true };
  }
  return found;
}

export const wish = () => ({ wantS: 0.04, slowMps: 4 / 3.6, fastMps: 10 / 3.6, atMps: 8 / 3.6, sigmaM: 0.05 });

// find tells what to set. A reading is {row, pass, move, section, speedMps, lateM, leadS, antennaM,
// oil, direction}; what is not known is null.
export function find(list, w) {
  const a = { lift: null, drop: null, cannotTell: [], next: [] };
  const antennaM = list.findLast((r) => r.antennaM != null)?.antennaM ?? null;
  for (const move of ["lift", "drop"]) {
    const own = list.filter((r) => r.move === move);
    if (own.length) a[move] = timing(move, own, antennaM, w, a);
  }
  a.distance = distance(a, antennaM);
  let slow = 0;
  let fast = 0;
  for (const move of ["lift", "drop"]) {
    if (!a[move]) continue;
    const m = more(a[move], w);
    if (!m.slow && !m.fast) continue;
    slow = Math.max(slow, m.slow);
    fast = Math.max(fast, m.fast);
    if (!m.enough) a.cannotTell.push(doubt("never", { move, count: mostNext, first: w.wantS, last: a[move].sigmaM }));
  }
  for (const [mps, passes] of [[w.slowMps, slow], [w.fastMps, fast]]) if (passes) a.next.push({ speedKmh: Math.round(360 * mps) / 100, passes });
  return a;
}

// withinM is within how many metres of the line 95 % of readings will lie once what was found is set;
// null where too little is known.
export function withinM(a, move, atMps) {
  const t = a[move];
  if (!t || t.line.fit.df < 1) return null;
  const { fit, cols, place, time } = t.line;
  const x = cols.map(() => 0);
  x[time] = atMps;
  let middle = 0;
  if (t.parted) {
    x[place] = 1;
    if (!a.distance.change) middle = Math.abs(t.placeErrorM);
  }
  const s = Math.sqrt(t.sigmaM ** 2 + fit.sigma ** 2 * quadratic(fit.inv, x));
  const below = (z) => (z < 0 ? 1 - inside(-z, fit.df) : 1 + inside(z, fit.df)) / 2;
  let lo = 0;
  let hi = middle + s * quantile(0.0002, fit.df);
  for (let i = 0; i < 100; i++) {
    const mid = (lo + hi) / 2;
    if (below((mid - middle) / s) - below((-mid - middle) / s) < 0.95) lo = mid;
    else hi = mid;
  }
  return (lo + hi) / 2;
}

// number reads a number with a decimal point or comma; NaN where it is none.
export function number(text) {
  const plain = text.trim().replace(",", ".").replace("−", "-");
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : NaN;
}

// Times at standstill.

const stopwatchSDs = 0.1; // a person's stopwatch, start and stop together (common practice, no source)
const frameSD = 1 / Math.sqrt(6); // of a difference of two frames
const priorDF = 10; // degrees of freedom that a scatter counts for that is known beforehand
const events = ["moves", "out", "raised", "falls", "in", "depth"];

// known fits rows whose standard deviation, 1, is known beforehand; null if the columns cannot be told apart.
function known(cols, y) {
  const free = y.length - cols.length;
  if (free < 0) return null;
  const scale = cols.map((c) => 1 / Math.sqrt(dot(c, c)));
  if (scale.some((s) => !Number.isFinite(s))) return null;
  const solved = inverse(cols.map((a, i) => cols.map((b, j) => dot(a, b) * scale[i] * scale[j])));
  if (!solved || solved.condition > 1e9) return null;
  const inv = solved.inv.map((row, i) => row.map((x, j) => x * scale[i] * scale[j]));
  let beta = inv.map((row) => dot(row, cols.map((c) => dot(c, y))));
  const left = () => predict(beta, cols, y.length).map((f, i) => y[i] - f);
  beta = beta.map((b, i) => b + dot(inv[i], cols.map((c) => dot(c, left()))));
  const rss = dot(left(), left());
  return { beta, inv, df: free + priorDF, sigma: Math.max(Math.sqrt((rss + priorDF) / (free + priorDF)), 1) };
}

// sum is a sum of coefficients with weights, and its interval.
function sum(f, weights) {
  const value = dot(weights, f.beta);
  const half = quantile(0.05, f.df) * f.sigma * Math.sqrt(quadratic(f.inv, weights));
  return { value, ci95: [value - half, value + half] };
}

// byOil parts times by the state of the oil: nothing said, cold, warm, and temperatures within 10 K.
function byOil(list) {
  const out = [];
  for (const oil of [null, "cold", "warm"]) {
    const own = list.filter((r) => r.oil === oil);
    if (own.length) out.push({ oil, list: own });
  }
  let warm = list.filter((r) => typeof r.oil === "number").sort((a, b) => a.oil - b.oil);
  while (warm.length) {
    const own = warm.filter((r) => r.oil <= warm[0].oil + 10);
    out.push({ oil: own.reduce((s, r) => s + r.oil, 0) / own.length, list: own });
    warm = warm.slice(own.length);
  }
  return out;
}

// atStandstill tells what times say, for each state of the oil: the time of an event is the dead time plus
// the way by the speed. A time is {event, sections, seconds, frames, fps, oil}; 0 sections are all.
export function atStandstill(times, h) {
  const list = times.map((r) => ({ ...r, s: r.fps ? r.frames / r.fps : r.seconds, sd: r.fps ? frameSD / r.fps : stopwatchSDs }));
  return byOil(list).map((g) => {
    const s = { oil: g.oil, count: g.list.length, cannotTell: [] };
    lifts(s, g.list.filter((r) => events.indexOf(r.event) < 3), h);
    drops(s, g.list.filter((r) => events.indexOf(r.event) >= 3), h);
    return s;
  });
}

function lifts(s, timed, h) {
  if (!timed.length) {
    s.cannotTell.push(doubt("still lift"));
    return;
  }
  const whole = h.workingM + h.raisedM;
  const way = { moves: 0, out: h.workingM, raised: whole };
  const own = timed.map((r) => ({ ...r, sections: r.sections || h.sections }));
  // All, where nobody said how many they are, stand last.
  const numbers = [...new Set(own.filter((r) => r.event !== "moves").map((r) => r.sections))].sort((a, b) => (a || Infinity) - (b || Infinity));
  const cols = [own.map((r) => 1 / r.sd), ...numbers.map((n) => own.map((r) => (r.sections === n ? way[r.event] / r.sd : 0)))];
  const f = known(cols, own.map((r) => r.s / r.sd));
  if (!f) {
    s.cannotTell.push(doubt("still lift events"));
    return;
  }
  const of = (dead, k, m) => sum(f, cols.map((_, i) => (i === 0 ? dead : i === 1 + k ? m : 0)));
  s.liftDeadS = of(1, -1, 0);
  const one = numbers.indexOf(1);
  let most = -1;
  numbers.forEach((n, k) => {
    if (n !== 1) most = k;
  });
  if (one >= 0) [s.strokeS, s.liftS, s.raisedS] = [of(0, one, whole), of(1, one, h.workingM), of(1, one, whole)];
  if (most >= 0 && (numbers[most] === 0 || numbers[most] === h.sections)) [s.strokeAll, s.liftAllS] = [of(0, most, whole), of(1, most, h.workingM)];
  if (one < 0 || most < 0 || numbers[most] === 0) {
    s.cannotTell.push(doubt("still pump"));
    return;
  }
  const [i, j] = [1 + one, 1 + most];
  const [a, b] = [f.beta[i], f.beta[j]];
  if (!(a > 0 && b > 0)) {
    s.cannotTell.push(doubt("still pump scatter"));
    return;
  }
  // The interval is one of the logarithm of the ratio of both strokes.
  const variance = f.inv[i][i] / (a * a) + f.inv[j][j] / (b * b) - (2 * f.inv[i][j]) / (a * b);
  const half = quantile(0.05, f.df) * f.sigma * Math.sqrt(Math.max(0, variance));
  const k = (numbers[most] * a) / b;
  s.fed = { value: k, ci95: [k * Math.exp(-half), k * Math.exp(half)] };
  s.fedAll = s.fed.ci95[1] >= numbers[most];
}

function drops(s, own, h) {
  if (!own.length) {
    s.cannotTell.push(doubt("still drop"));
    return;
  }
  const whole = h.workingM + h.raisedM;
  const way = { falls: 0, in: h.raisedM, depth: whole };
  const cols = [own.map((r) => 1 / r.sd), own.map((r) => way[r.event] / r.sd)];
  const y = own.map((r) => r.s / r.sd);
  const f = known(cols, y);
  if (f) {
    [s.dropDeadS, s.fallS, s.dropS] = [sum(f, [1, 0]), sum(f, [0, whole]), sum(f, [1, h.raisedM])];
    return;
  }
  s.cannotTell.push(doubt("still drop events"));
  if (own.every((r) => r.event === "in")) s.dropS = sum(known([cols[0]], y), [1]);
}

// csv is readings and times as liftbench tape reads them. A speed is km/h, or seconds over m.
export function csv(list) {
  const quoted = (s) => (/[",\n\r]/.test(s) ? `"${s.replaceAll('"', '""')}"` : s);
  const opt = (x, times) => (x == null ? "" : String(Math.round(x * times * 1e9) / 1e9));
  const still = list.some((r) => r.event);
  const over = list.some((r) => r.overM);
  const heads = ["pass", "move", "section", "speed_kmh", ...(over ? ["seconds", "over_m"] : []), "late_cm", "lead_ms", "antenna_m", "oil", "direction", ...(still ? ["event", "sections", "time_s", "frames", "fps"] : [])];
  const row = (r) => {
    if (r.event) return { oil: r.oil ?? "", event: r.event, sections: r.sections || "all", time_s: opt(r.seconds, 1), frames: opt(r.frames, 1), fps: opt(r.fps, 1) };
    const speed = r.overM ? { seconds: opt(r.seconds, 1), over_m: opt(r.overM, 1) } : { speed_kmh: opt(r.speedMps, 3.6) };
    return { pass: r.pass ?? "", move: r.move, section: r.section || "all", ...speed, late_cm: opt(r.lateM, 100), lead_ms: opt(r.leadS, 1000), antenna_m: opt(r.antennaM, 1), oil: r.oil ?? "", direction: quoted(r.direction || "") };
  };
  return [heads.join(","), ...list.map(row).map((r) => heads.map((h) => r[h] ?? "").join(","))].join("\n") + "\n";
}
