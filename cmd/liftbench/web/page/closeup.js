// The close-up's figure: choosing the crossing, and stepping or playing
// through its seconds.

import { Frame } from "./frame.js";
import { drawCrossing, crossingCursor } from "./draw-crossing.js";
import { titleOf, worst } from "./crossing-list.js";
import { h } from "./html.js";
import { fixed, lateness } from "./format.js";
import { rounded } from "./grid.js";

/** @typedef {import("./drive.js").Drive} Drive */
/** @typedef {import("./drive.js").Closeup} Closeup */

const SLOWER = 8;
const PLAY = `Play at 1/${SLOWER} speed`;
const stillness = matchMedia("(prefers-reduced-motion: reduce)");

export class CloseupFigure {
  /**
   * @param {HTMLElement} host
   * @param {(crossing: number) => void} picked
   * @param {(t: number) => void} moved
   */
  constructor(host, picked, moved) {
    this.picked = picked;
    this.moved = moved;
    /** @type {Drive|null} */
    this.drive = null;
    /** @type {Closeup|null} */
    this.closeup = null;
    this.crossing = null;
    this.t = 0;
    this.playing = 0;
    this.select = h("select", { id: "crossing", "aria-label": "Crossing", onchange: () => picked(Number(this.select.value)) });
    const button = (text, label, act) => h("button", { type: "button", "aria-label": label, onclick: act }, text);
    const go = (by) => () => this.crossing !== null && this.drive && picked(Math.min(Math.max(this.crossing + by, 0), this.drive.crossings.length - 1));
    this.frame = new Frame(host, {
      name: "crossing", title: "Crossing in close-up",
      tools: [
        this.select, button("‹", "Crossing before", go(-1)), button("›", "Crossing after", go(1)),
        button("Worst", "Worst crossing: the one with the largest error", () => this.drive && picked(worst(this.drive.crossings))),
      ],
      stage: { class: "stage crossing-stage" },
    });
    this.slider = h("input", { type: "range", id: "instant", step: "0.01", "aria-label": "Instant", oninput: () => this.moved(Number(this.slider.value)) });
    this.play = h("button", { type: "button", onclick: () => (this.playing ? this.stop() : this.start()) }, PLAY);
    const by = (s) => () => {
      this.stop();
      if (this.closeup) this.moved(Math.min(Math.max(this.t + s, this.closeup.from), this.closeup.until));
    };
    this.clock = h("output", { for: "instant", class: "instant" });
    this.player = h("div", { class: "player", role: "group", "aria-label": "Seconds of the crossing" },
      this.slider, this.play,
      button("−0.1 s", "−0.1 s: step back", by(-0.1)), button("−0.02 s", "−0.02 s: step back", by(-0.02)),
      button("+0.02 s", "+0.02 s: step on", by(0.02)), button("+0.1 s", "+0.1 s: step on", by(0.1)),
      this.clock);
    this.frame.stage.after(this.player);
    const still = () => {
      this.play.hidden = stillness.matches;
      if (stillness.matches) this.stop();
    };
    stillness.addEventListener("change", still);
    still();
  }

  /** @param {Drive} drive @param {number|null} crossing */
  list(drive, crossing) {
    this.drive = drive;
    this.crossing = crossing;
    const titles = drive.crossings.map((c) => titleOf(c, !drive.live));
    const options = [...this.select.options];
    if (options.length !== titles.length || options.some((o, i) => o.textContent !== titles[i])) {
      this.select.replaceChildren(...titles.map((t, i) => h("option", { value: String(i) }, t)));
    }
    this.select.value = crossing === null ? "" : String(crossing);
    if (crossing === null && drive.live && titles.length > 0) {
      this.closeup = null;
      this.frame.show(null);
      this.frame.say("The crossing that was picked is no longer kept: of a live run the page shows the last minutes.");
    }
    if (titles.length === 0) {
      this.closeup = null;
      this.frame.show(null);
      this.frame.say("This drive crosses no border.");
    }
  }

  /** @param {Closeup} closeup */
  showCloseup(closeup) {
    this.closeup = closeup;
    this.slider.min = closeup.from.toFixed(2);
    this.slider.max = closeup.until.toFixed(2);
    this.render();
  }

  /** @param {number} t */
  at(t) {
    this.t = t;
    this.render();
  }

  render() {
    const { closeup, drive, t } = this;
    if (!closeup || !drive) return;
    this.slider.value = t.toFixed(2);
    const ideal = firstIdeal(closeup);
    const said = ideal === null ? `${fixed(t, 2)} s` : `${fixed(Math.abs(t - ideal), 2)} s ${t < ideal ? "before" : "after"} the first ideal crossing`;
    this.clock.textContent = said;
    this.slider.setAttribute("aria-valuetext", said);
    this.frame.say(words(closeup));
    this.frame.show({
      of: [closeup],
      draw: (width, palette) => drawCrossing({ closeup, drive, width, palette }),
      cursor: (width, palette) => crossingCursor({ closeup, drive, width, palette }, t),
      alt: words(closeup),
      grid: () => gridOf(closeup),
    });
  }

  start() {
    const c = this.closeup;
    if (!c) return;
    this.play.textContent = "Stop";
    let t = this.t >= c.from && this.t < c.until - 0.02 ? this.t : c.from;
    let last = performance.now();
    const next = (now) => {
      t += (now - last) / 1000 / SLOWER;
      last = now;
      if (t >= c.until || this.closeup !== c) return this.stop();
      this.moved(t);
      this.playing = requestAnimationFrame(next);
    };
    this.playing = requestAnimationFrame(next);
  }

  stop() {
    cancelAnimationFrame(this.playing);
    this.playing = 0;
    this.play.textContent = PLAY;
  }
}

/** @param {Closeup} c @returns {number|null} */
function firstIdeal(c) {
  const list = c.sections.map((s) => s.ideal).filter((x) => x !== null);
  return list.length ? Math.min(.../** @type {number[]} */ (list)) : null;
}

/** @param {Closeup} c */
function words(c) {
  const each = c.sections.map((s) => `${s.section + 1} ${s.actual === null ? "did not move" : s.ideal === null ? "extra move" : lateness((s.placeM ?? 0) * 100, 1, "cm")}`);
  return `${c.on ? "Drop" : "Lift"} by section: ${each.join(", ")}.`;
}

/** @param {Closeup} c */
function gridOf(c) {
  return {
    columns: ["section", "ideal s", "command s", "actual s", "time error s", "place error cm"],
    rows: c.sections.map((s) => [s.section + 1, s.ideal, s.command, s.actual, rounded(s.timeS, 4), s.placeM === null ? null : rounded(s.placeM * 100, 2)]),
  };
}
