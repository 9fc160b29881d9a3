// Answers sheets of readings as the page does: a JSON array of sheets in, each a list of rows as they are
// typed, an array of answers out.

import { pathToFileURL } from "node:url";

const { csv, find, number, wish, withinM } = await import(pathToFileURL(process.argv[2]));

let text = "";
for await (const chunk of process.stdin) text += chunk;

const optional = (s, by) => (s === "" ? null : number(s) / by);

const answers = JSON.parse(text).map((sheet) => {
  // An empty lead or distance is that of the row above, as in a file.
  const above = { lift: null, drop: null, antenna: null };
  const list = sheet.map((r, i) => {
    above[r.move] = optional(r.lead_ms, 1000) ?? above[r.move];
    above.antenna = optional(r.antenna_m, 1) ?? above.antenna;
    return {
      row: i + 2, move: r.move, speedMps: number(r.speed_kmh) / 3.6, lateM: number(r.late_cm) / 100,
      leadS: above[r.move], antennaM: above.antenna, section: Number(r.section || 0),
      oil: r.oil === "" ? null : r.oil === "cold" || r.oil === "warm" ? r.oil : number(r.oil), direction: r.direction,
    };
  });
  const w = wish();
  const a = find(list, w);
  const timing = (t) =>
    t && {
      time_error_s: t.timeErrorS, time_error_ci95: t.timeErrorCI95, place_error_m: t.placeErrorM, place_error_ci95: t.placeErrorCI95,
      lead_set_ms: t.leadSetMs, lead_ms: t.leadMs, lead_ci95_ms: t.leadCI95Ms, count: t.count,
      left_out: t.leftOut.map((l) => l.row), effects: t.effects.map((e) => [e.name, e.timeS, e.placeM, e.half]),
    };
  return {
    lift: timing(a.lift), drop: timing(a.drop), cannot_tell: a.cannotTell,
    next: a.next.map((n) => ({ speed_kmh: n.speedKmh, passes: n.passes })),
    within: [withinM(a, "lift", w.atMps), withinM(a, "drop", w.atMps)],
    distance: [a.distance.known, a.distance.change, a.distance.differ, a.distance.errorM ?? 0, a.distance.newM ?? 0],
    csv: csv(list),
  };
});
process.stdout.write(JSON.stringify(answers));
