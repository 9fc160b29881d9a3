// The settings that can be turned: beside each what it is, its unit and its
// usual range.

import { h } from "./html.js";
import { readValue } from "./link.js";

/** @typedef {import("./link.js").Control} Control */
/** @typedef {import("./link.js").Setting} Setting */

export class Controls {
  /**
   * @param {HTMLElement} turnHost   where those stand that a lesson asks to turn
   * @param {HTMLElement} restHost   where all others stand
   * @param {Control[]} list
   * @param {(key: string, value: any, settled: boolean) => void} changed   settled: the user let go
   */
  constructor(turnHost, restHost, list, changed) {
    this.turnHost = turnHost;
    this.restHost = restHost;
    this.list = list;
    /** @type {Map<string, Knob>} */
    this.knobs = new Map(list.map((c) => [c.key, new Knob(c, changed)]));
    this.arrange([]);
  }

  /** Puts those keys where they are turned first. @param {string[]} keys */
  arrange(keys) {
    this.turnHost.replaceChildren(...keys.flatMap((k) => this.knobs.get(k)?.node ?? []));
    this.restHost.replaceChildren(...this.list.filter((c) => !keys.includes(c.key)).map((c) => /** @type {Knob} */ (this.knobs.get(c.key)).node));
  }

  /** @param {Setting} setting */
  set(setting) {
    for (const c of this.list) this.knobs.get(c.key)?.set(setting[c.key] ?? c.default);
  }

  /** Marks controls that have no effect. @param {string[]} keys */
  fix(keys) {
    for (const c of this.list) this.knobs.get(c.key)?.fix(keys.includes(c.key));
  }

  /** Says beside a lead on `auto` what it comes to. @param {string} key @param {string} text */
  hint(key, text) {
    this.knobs.get(key)?.hint(text);
  }

  /** Shows what is wrong with a control, or nothing. @param {string|null} key @param {string} text */
  fault(key, text) {
    for (const c of this.list) this.knobs.get(c.key)?.fault(c.key === key ? text : "");
  }
}

/** One control with its words. */
class Knob {
  /** @param {Control} c @param {(key: string, value: any, settled: boolean) => void} changed */
  constructor(c, changed) {
    this.c = c;
    this.changed = changed;
    const id = `set-${c.key}`;
    const words = [c.what, c.usual && `Usual: ${c.usual}${c.unit ? " " + c.unit : ""}.`, `Default: ${write(c.default)}.`].filter(Boolean).join(" ");
    this.words = h("p", { class: "words", id: `${id}-words` }, words);
    this.faultLine = h("p", { class: "fault", id: `${id}-fault`, hidden: true });
    this.hintLine = h("span", { class: "hint" });
    const described = { "aria-describedby": `${id}-words ${id}-fault` };
    const unit = c.unit ? h("span", { class: "unit" }, c.unit) : null;
    /** @type {HTMLInputElement|null} */
    this.slider = null;
    /** @type {HTMLInputElement|null} */
    this.auto = null;
    if (c.kind === "word" || c.kind === "choice") {
      const options = (c.kind === "word" ? c.words : c.choices) ?? [];
      this.field = h("select", { id, ...described, onchange: () => this.take(this.field.value, true) },
        options.map((o) => h("option", { value: String(o) }, String(o))));
    } else if (c.kind === "switch") {
      this.field = h("input", { type: "checkbox", id, ...described, onchange: () => this.take(String(this.field.checked), true) });
    } else {
      const range = { min: c.min, max: c.max, step: c.step };
      this.field = h("input", {
        type: "number", id, ...range, ...described, inputmode: "decimal",
        oninput: () => this.take(this.field.value, false), onchange: () => this.take(this.field.value, true),
      });
      this.slider = h("input", {
        type: "range", ...range, "aria-label": `${c.label}, slider`, ...described,
        oninput: () => this.take(this.slider?.value ?? "", false), onchange: () => this.take(this.slider?.value ?? "", true),
      });
      if (c.kind === "number-or-auto") {
        this.auto = h("input", { type: "checkbox", id: `${id}-auto`, onchange: () => this.take(this.auto?.checked ? "auto" : String(this.lastNumber ?? c.min ?? 0), true) });
      }
    }
    /** Why the text in the field is not taken: stays until it is changed. */
    this.refused = "";
    this.lastNumber = typeof c.default === "number" ? c.default : null;
    this.entry = h("span", { class: "entry" }, this.field, unit);
    this.node = h("div", { class: "knob", "data-key": c.key },
      h("div", { class: "knob-line" },
        h("label", { for: id }, c.label),
        this.auto && h("label", { class: "auto", for: `${id}-auto` }, this.auto, "auto"),
        this.hintLine,
        this.entry),
      this.slider, this.words, this.faultLine);
    this.set(c.default);
  }

  /** @param {string} text @param {boolean} settled */
  take(text, settled) {
    const value = readValue(this.c, text);
    if (value === undefined) {
      this.refused = `Found “${text}”; expected ${expected(this.c)}.`;
      this.fault("");
      return;
    }
    this.refused = "";
    this.fault("");
    this.set(value, document.activeElement);
    this.changed(this.c.key, value, settled);
  }

  /** @param {any} value @param {Element|null} [typing]   the field that the user is in keeps its text */
  set(value, typing = null) {
    this.node?.classList.toggle("changed", value !== this.c.default);
    if (this.refused && this.field !== typing) {
      this.refused = ""; // its text goes
      this.fault("");
    }
    if (this.c.kind === "switch") {
      this.field.checked = value === true;
      return;
    }
    if (this.auto) {
      const auto = value === "auto";
      this.auto.checked = auto;
      this.entry.hidden = auto;
      if (this.slider) this.slider.hidden = auto;
      if (auto) {
        this.field.value = "";
        return;
      }
    }
    if (typeof value === "number") this.lastNumber = value;
    if (this.field !== typing) this.field.value = String(value);
    if (this.slider && this.slider !== typing) this.slider.value = String(value);
  }

  /** @param {boolean} fixed */
  fix(fixed) {
    this.node.classList.toggle("fixed", fixed);
    this.field.disabled = fixed;
    if (this.slider) this.slider.disabled = fixed;
    if (this.auto) this.auto.disabled = fixed;
  }

  /** @param {string} text */
  hint(text) {
    this.hintLine.textContent = this.auto?.checked ? text : "";
    if (this.auto?.checked) this.lastNumber = Number.parseFloat(text) || this.lastNumber;
  }

  /** Shows what an answer says is wrong, or else why the text in the field is not taken. @param {string} text */
  fault(text) {
    text ||= this.refused;
    this.faultLine.textContent = text;
    this.faultLine.hidden = text === "";
    if (text) this.field.setAttribute("aria-invalid", "true");
    else this.field.removeAttribute("aria-invalid");
  }
}

/** @param {any} value */
const write = (value) => (value === true ? "on" : value === false ? "off" : String(value));

/** @param {Control} c */
function expected(c) {
  if (c.kind === "word" || c.kind === "choice") return "one of " + (c.words ?? c.choices ?? []).join(", ");
  return `a number from ${c.min} to ${c.max}${c.unit ? " " + c.unit : ""}`;
}
