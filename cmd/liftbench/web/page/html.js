// Building HTML elements in one expression.

/**
 * Returns an element. Attributes whose value is false, null or undefined are
 * left out, true stands for an empty one; names that begin with "on" are listeners.
 * @param {string} tag
 * @param {Record<string, any>} [attrs]
 * @param {...(Node|string|null|false|undefined|(Node|string|null)[])} kids
 * @returns {any}
 */
export function h(tag, attrs = {}, ...kids) {
  const e = document.createElement(tag);
  for (const [name, value] of Object.entries(attrs)) {
    if (value === false || value === null || value === undefined) continue;
    if (name.startsWith("on")) e.addEventListener(name.slice(2), value);
    else e.setAttribute(name, value === true ? "" : String(value));
  }
  for (const kid of kids.flat()) if (kid !== null && kid !== undefined && kid !== false) e.append(kid);
  return e;
}

/** @param {string} id @returns {any} */
export const byId = (id) => document.getElementById(id);
