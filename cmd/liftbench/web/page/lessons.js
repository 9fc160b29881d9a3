// Lessons: three sentences, a place to start from, and what to turn and watch.

import { h } from "./html.js";

/**
 * @typedef {object} Lesson
 * @property {string} key @property {string} title
 * @property {string[]} text
 * @property {import("./link.js").Setting} set
 * @property {string[]} turn
 * @property {string} [watch]
 */

/** What a lesson can look at: as said, and the lines of the result it stands for. */
const watches = {
  "lift.place_error": { said: "the lift's place error", lines: ["lift place"] },
  "lift.time_error": { said: "the lift's time error", lines: ["lift time"] },
  "drop.place_error": { said: "the drop's place error", lines: ["drop place"] },
  "drop.time_error": { said: "the drop's time error", lines: ["drop time"] },
  area: { said: "overrun and miss", lines: ["overrun", "across rows", "miss"] },
  fit: { said: "the line in the figure of error over speed", lines: [] },
};

/**
 * Returns how the keys begin of the result's lines that a lesson looks at.
 * @param {string} watch
 * @returns {string[]}
 */
export const watchedLines = (watch) => (Object.hasOwn(watches, watch) ? watches[watch].lines : []);

export class Lessons {
  /**
   * @param {HTMLElement} host
   * @param {Lesson[]} list
   * @param {(lesson: Lesson|null) => void} chosen
   */
  constructor(host, list, chosen) {
    this.list = list;
    this.text = h("div", { class: "lesson-text", "aria-live": "polite" });
    this.select = h("select", { id: "lesson", onchange: () => chosen(this.find(this.select.value)) },
      h("option", { value: "" }, "none, turn freely"),
      list.map((l, i) => h("option", { value: l.key }, `${i + 1}. ${l.title}`)));
    host.append(h("div", { class: "knob-line" }, h("label", { for: "lesson" }, "Lesson")), this.select, this.text);
  }

  /** @param {string|null} key @returns {Lesson|null} */
  find(key) {
    return this.list.find((l) => l.key === key) ?? null;
  }

  /** @param {Lesson|null} lesson */
  show(lesson) {
    this.select.value = lesson?.key ?? "";
    this.text.replaceChildren(...(lesson ? [
      h("p", {}, lesson.text.join(" ")),
      lesson.watch && Object.hasOwn(watches, lesson.watch) ? h("p", { class: "watch" }, `Watch ${watches[lesson.watch].said}.`) : null,
    ].filter(Boolean) : []));
  }
}
