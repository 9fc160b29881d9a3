// Answers sheets of readings as the page does: a JSON array of sheets in, each a list of rows as they are
// typed, an array of answers out.

import { pathToFileURL } from "node:url";

const { atStandstill, csv, find, number, wish, withinM } = await import(pathToFileURL(process.argv[2]));

let text = "";
for await (const chunk of process.stdin) text += chunk;

const optional = (s, by) => (s === "" ? null : number(s) / by);

const answers = JSON.parse(text).map((sheet) => {
  // An empty lead or distance is that of the row above, as in a file.
  const above = { lift: null, drop: null, antenna: null };
  const oilOf = (r) => (r.oil === "" ? null : r.oil === "cold" || r.oil === "warm" ? r.oil : number(r.oil));
  const list = sheet.map((r, i) => {
    if (r.event) return { row: i + 2, event: r.event, sections: Number(r.sections || 0), seconds: optional(r.time_s, 1), frames: optional(r.frames, 1), fps: optional(r.fps, 1), oil: oilOf(r) };
    above[r.move] = optional(r.lead_ms, 1000) ?? above[r.move];
    above.antenna = optional(r.antenna_m, 1) ?? above.antenna;
    const overM = optional(r.over_m, 1);
    const seconds = optional(r.seconds, 1);
    return {
      row: i + 2, pass: r.pass, move: r.move, seconds, overM, speedMps: overM ? overM / seconds : number(r.speed_kmh) / 3.6, lateM: number(r.late_cm) / 100,
      leadS: above[r.move], antennaM: above.antenna, section: Number(r.section || 0), oil: oilOf(r), direction: r.direction,
    };
  });
  const passes = list.filter((r) => !r.event);
  const w = wish();
  const a = find(passes, w);
  const timing = (t) =>
    t && {
      time_error_s: t.timeErrorS, time_error_ci95: t.timeErrorCI95, place_error_m: t.placeErrorM, place_error_ci95: t.placeErrorCI95,
      lead_set_ms: t.leadSetMs, lead_ms: t.leadMs, lead_ci95_ms: t.leadCI95Ms, count: t.count, passes: t.passes, sigma: t.sigmaM,
      left_out: t.leftOut.map((l) => [l.row, l.offM, l.chance, l.whole]),
      effects: t.effects.map((e) => [e.term, e.section ?? 0, e.ways ?? ["", ""], e.kelvin ?? false, e.timeS, e.placeM, e.half]),
    };
  const within = (x) => (x ? [x.value, ...x.ci95] : null);
  return {
    lift: timing(a.lift), drop: timing(a.drop), cannot_tell: a.cannotTell,
    next: a.next.map((n) => ({ speed_kmh: n.speedKmh, passes: n.passes })),
    within: [withinM(a, "lift", w.atMps), withinM(a, "drop", w.atMps)],
    distance: [a.distance.known, a.distance.change, a.distance.differ, a.distance.errorM ?? 0, a.distance.newM ?? 0],
    still: atStandstill(list.filter((r) => r.event), { workingM: 0.03, raisedM: 0.15, sections: 6 }).map((s) => ({
      count: s.count, all: s.fedAll ?? false, cannot_tell: s.cannotTell,
      told: [s.liftDeadS, s.strokeS, s.strokeAll, s.dropDeadS, s.fallS, s.fed, s.liftS, s.raisedS, s.dropS, s.liftAllS].map(within),
    })),
    csv: csv(list),
  };
});
process.stdout.write(JSON.stringify(answers));
