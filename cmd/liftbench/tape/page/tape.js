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
  const solved = inverse(cols.map((a, i) => cols.map((b, j) => dot(a, b) * scale[i] * scale[j])));
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
// Student's t and Bonferroni. alike are others that would explain the scatter as well.
function slipped(f, cols) {
  const n = f.left.length;
  if (f.df < 2) return { row: -1, p: 1, alike: [] };
  let row = -1;
  const without = [];
  const chance = [];
  const own = [];
  for (let r = 0; r < n; r++) {
    own[r] = 1 - quadratic(f.inv, cols.map((c) => c[r]));
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
  return { what: "the direction", cols: [list.map((r) => (r.direction === names[1] ? -0.5 : 0.5))], names: [`${names[0]} beside ${names[1]}`], place: true };
}

// oilTerm is a time more for cold oil.
function oilTerm(list, v) {
  const cold = list.filter((r) => r.oil === "cold").length;
  const warm = list.filter((r) => r.oil === "warm").length;
  const degrees = list.filter((r) => typeof r.oil === "number").map((r) => r.oil);
  if (cold + warm + degrees.length < list.length) return null;
  if (cold >= 2 && warm >= 2 && cold + warm === list.length)
    return { what: "cold oil", cols: [list.map((r, i) => (r.oil === "cold" ? 0.5 : -0.5) * v[i])], names: ["cold oil beside warm"] };
  if (cold + warm > 0 || !(Math.max(...degrees) - Math.min(...degrees) >= 10)) return null;
  const mean = degrees.reduce((s, c) => s + c / list.length, 0);
  return { what: "cold oil", cols: [list.map((r, i) => (v[i] * (mean - r.oil)) / 10)], names: ["oil colder by 10 K"] };
}

// sectionTerm is a time more or less for each section beside their mean.
function sectionTerm(list, v) {
  const m = count(list.filter((r) => r.section > 0), (r) => r.section);
  const numbers = [...m.keys()].sort((a, b) => a - b);
  if (numbers.length < 2 || [...m.values()].some((n) => n < 2)) return null;
  const last = numbers[numbers.length - 1];
  return {
    what: "the section",
    cols: numbers.slice(0, -1).map((k) => list.map((r, i) => (r.section === k ? v[i] : r.section === last ? -v[i] : 0))),
    names: numbers.map((k) => `section ${k}`),
  };
}

// line draws the line through readings of one move, each brought to what was set at last.
function line(list, leadS, antennaM, w) {
  const v = list.map((r) => r.speedMps);
  const y = list.map((r) => {
    let e = r.lateM;
    if (r.leadS != null) e += r.speedMps * (r.leadS - leadS);
    if (r.antennaM != null) e -= r.antennaM - antennaM;
    return e;
  });
  const n = list.length;
  const oneSpeed = Math.max(...v) - Math.min(...v) < oneSpeedMps - 1e-9;
  let f = { oneSpeed, cols: [v], y, place: -1, time: 0, terms: [], cannot: [] };
  if (n >= 3 && !oneSpeed) f = { ...f, cols: [v.map(() => 1), v], place: 0, time: 1 };
  for (const t of [directionTerm(list), oilTerm(list, v), sectionTerm(list, v)]) {
    if (!t) continue;
    const wider = [...f.cols, ...t.cols];
    if (n - wider.length < freeRows) f.cannot.push(`${list[0].move}: whether ${t.what} matters, from ${n} readings`);
    else if (!least(wider, y)) f.cannot.push(`${list[0].move}: whether ${t.what} matters, as it changed together with something else on the same passes`);
    else {
      f.terms.push({ ...t, at: f.cols.length });
      f.cols = wider;
    }
  }
  f.fit = least(f.cols, y);
  if (!f.fit) {
    // One reading, or two: the time that explains them alone.
    f = { ...f, cols: [v], place: -1, time: 0, terms: [] };
    f.fit = { beta: [dot(v, y) / dot(v, v)], df: 0, sigma: w.sigmaM };
  }
  return f;
}

function effects(f) {
  const out = [];
  if (f.fit.df < 1) return out;
  const q = quantile(0.05, f.fit.df);
  for (const t of f.terms) {
    let sum = 0;
    const z = f.cols.map(() => 0);
    t.names.forEach((name, k) => {
      let size = -sum;
      let half;
      if (k < t.cols.length) {
        size = f.fit.beta[t.at + k];
        half = q * f.fit.sigma * Math.sqrt(f.fit.inv[t.at + k][t.at + k]);
        sum += size;
        z[t.at + k] = 1;
      } else half = q * f.fit.sigma * Math.sqrt(quadratic(f.fit.inv, z));
      out.push({ name, timeS: t.place ? 0 : size, placeM: t.place ? size : 0, half });
    });
  }
  return out;
}

function timing(move, own, antennaM, w, a) {
  const set = own.findLast((r) => r.leadS != null);
  const leadS = set ? set.leadS : 0;
  const most = Math.max(1, Math.floor(own.length / 5));
  const leftOut = [];
  let used = own;
  let f;
  for (;;) {
    f = line(used, leadS, antennaM, w);
    const slip = f.fit.df < 2 ? { p: 1 } : slipped(f.fit, f.cols);
    if (slip.p >= slipAt || leftOut.length === most) {
      a.cannotTell.push(...f.cannot);
      break;
    }
    if (slip.alike.length) {
      a.cannotTell.push(...f.cannot);
      const rows = [slip.row, ...slip.alike].map((i) => used[i].row).sort((x, y) => x - y);
      a.cannotTell.push(`${move}: which of rows ${rows.slice(0, -1).join(", ")} and ${rows[rows.length - 1]} is wrong; one of them is, beyond chance: measure there again`);
      break;
    }
    leftOut.push({ row: used[slip.row].row, offM: slip.offM });
    used = used.filter((_, i) => i !== slip.row);
  }
  const t = { count: used.length, leftOut, used, line: f, parted: f.place >= 0, sigmaM: f.fit.sigma, meanMps: used.reduce((s, r) => s + r.speedMps / used.length, 0) };
  t.timeErrorS = f.fit.beta[f.time];
  t.assumed = f.fit.df < 1;
  if (t.assumed) {
    t.half = (z95 * w.sigmaM) / Math.sqrt(dot(f.cols[0], f.cols[0]));
    a.cannotTell.push(`${move}: how far readings scatter, from ${used.length}; ±${(100 * w.sigmaM).toFixed(0)} cm (a standard deviation) are assumed`);
  } else t.half = quantile(0.05, f.fit.df) * f.fit.sigma * Math.sqrt(f.fit.inv[f.time][f.time]);
  t.timeErrorCI95 = [t.timeErrorS - t.half, t.timeErrorS + t.half];
  t.placeErrorM = t.placeErrorCI95 = null;
  if (t.parted) {
    const half = quantile(0.05, f.fit.df) * f.fit.sigma * Math.sqrt(f.fit.inv[f.place][f.place]);
    t.placeErrorM = f.fit.beta[f.place];
    t.placeErrorCI95 = [t.placeErrorM - half, t.placeErrorM + half];
  } else if (!f.oneSpeed) a.cannotTell.push(`${move}: whether a time or a place is wrong: ${used.length} readings are too few; the lead is right if no place is`);
  else a.cannotTell.push(`${move}: whether a time or a place is wrong, as all passes were at about ${(3.6 * t.meanMps).toFixed(1)} km/h; the lead is right for that speed alone`);
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
  if (d.differ) {
    const cm = (t) => signed(100 * t.placeErrorM, 0);
    a.cannotTell.push(`what puts lifts ${cm(a.lift)} cm and drops ${cm(a.drop)} cm off their place: no distance does both; measure both to the same edge of the soil, at the same depth`);
  }
  return d;
}

export const signed = (x, decimals) => (x < 0 ? "" : "+") + x.toFixed(decimals);

// more is how many further passes at the two speeds bring the lead to what is wanted.
function more(t, w) {
  if (t.parted && t.half <= w.wantS) return { slow: 0, fast: 0, enough: true };
  const n = t.count;
  const sum = t.used.reduce((s, r) => s + r.speedMps, 0);
  const squares = t.used.reduce((s, r) => s + r.speedMps * r.speedMps, 0);
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
      const half = (q * t.sigmaM) / Math.sqrt(about);
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

// find tells what to set. A reading is {row, move, section, speedMps, lateM, leadS, antennaM, oil,
// direction}; what is not known is null.
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
    if (!m.enough) a.cannotTell.push(`${move}: its lead to ±${(1000 * w.wantS).toFixed(0)} ms, even with ${mostNext} more passes: readings scatter by ${(100 * a[move].sigmaM).toFixed(0)} cm; look for what makes them`);
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
  const s = fit.sigma * Math.sqrt(1 + quadratic(fit.inv, x));
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

// csv is the readings as liftbench tape reads them.
export function csv(list) {
  const quoted = (s) => (/[",\n\r]/.test(s) ? `"${s.replaceAll('"', '""')}"` : s);
  const opt = (x, times) => (x == null ? "" : String(Math.round(x * times * 1e6) / 1e6));
  return [
    "pass,move,section,speed_kmh,late_cm,lead_ms,antenna_m,oil,direction",
    ...list.map((r) => [r.row, r.move, r.section || "all", opt(r.speedMps, 3.6), opt(r.lateM, 100), opt(r.leadS, 1000), opt(r.antennaM, 1), r.oil ?? "", quoted(r.direction || "")].join(",")),
  ].join("\n") + "\n";
}
