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
      lesson.watch ? h("p", { class: "watch" }, "Watch: ", lesson.watch, ".") : null,
    ].filter(Boolean) : []));
  }
}
