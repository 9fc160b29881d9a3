// The link that holds the whole page: the setting in the server's own form,
// and behind it what is looked at and what is pinned.

/** @typedef {Record<string, string|number|boolean>} Setting   controls that differ from their defaults */

/**
 * @typedef {object} PageState
 * @property {Setting} setting
 * @property {Setting|null} pinned
 * @property {string|null} lesson
 * @property {number|null} crossing   from 0
 */

/**
 * Returns the query of a setting, in the order of the controls.
 * @param {Setting} setting
 * @param {{key: string}[]} controls
 */
export function settingQuery(setting, controls) {
  const parts = ["v=1"];
  for (const { key } of controls) {
    if (key in setting) parts.push(`${key}=${encodeURIComponent(String(setting[key]))}`);
  }
  return parts.join("&");
}

/**
 * Returns what of a query can be used, and the keys that cannot.
 * @param {string} query
 * @param {Control[]} controls
 * @returns {{setting: Setting, unknown: string[]}}
 */
function readSetting(query, controls) {
  /** @type {Setting} */
  const setting = {};
  const unknown = [];
  for (const [key, text] of new URLSearchParams(query)) {
    if (key === "v" && text === "1") continue;
    const control = controls.find((c) => c.key === key);
    const value = control && readValue(control, text);
    if (value === undefined) unknown.push(key);
    else if (value !== control.default) setting[key] = value;
  }
  return { setting, unknown };
}

/**
 * @typedef {object} Control
 * @property {string} key @property {string} label @property {string} what
 * @property {string} [unit] @property {string} [usual]
 * @property {"number"|"number-or-auto"|"word"|"choice"|"switch"} kind
 * @property {number} [min] @property {number} [max] @property {number} [step]
 * @property {string[]} [words] @property {number[]} [choices]
 * @property {any} default
 */

/**
 * Returns the value that a text stands for, undefined when it is none of the control's.
 * @param {Control} c
 * @param {string} text
 */
export function readValue(c, text) {
  switch (c.kind) {
    case "switch":
      return text === "true" ? true : text === "false" ? false : undefined;
    case "word":
      return c.words?.includes(text) ? text : undefined;
    case "number-or-auto":
      if (text === "auto") return text;
  }
  if (text.trim() === "") return undefined;
  const x = Number(text);
  if (!Number.isFinite(x)) return undefined;
  if (c.kind === "choice") return c.choices?.includes(x) ? x : undefined;
  if (c.min !== undefined && x < c.min) return undefined;
  if (c.max !== undefined && x > c.max) return undefined;
  return x;
}

/**
 * Returns the fragment of a page.
 * @param {PageState} page
 * @param {Control[]} controls
 */
export function writeLink(page, controls) {
  let s = settingQuery(page.setting, controls);
  if (page.lesson) s += `&lesson=${encodeURIComponent(page.lesson)}`;
  if (page.crossing !== null) s += `&crossing=${page.crossing + 1}`;
  if (page.pinned) s += `&pinned=${encodeURIComponent(settingQuery(page.pinned, controls))}`;
  return "#" + s;
}

/**
 * @param {string} fragment with or without #
 * @param {Control[]} controls
 * @returns {PageState & {unknown: string[]}}
 */
export function readLink(fragment, controls) {
  const all = new URLSearchParams(fragment.replace(/^#/, ""));
  const lesson = all.get("lesson");
  const crossing = Number(all.get("crossing"));
  const pinned = all.get("pinned");
  for (const own of ["lesson", "crossing", "pinned"]) all.delete(own);
  return {
    ...readSetting(all.toString(), controls),
    lesson,
    crossing: Number.isInteger(crossing) && crossing > 0 ? crossing - 1 : null,
    pinned: pinned === null ? null : readSetting(pinned, controls).setting,
  };
}
