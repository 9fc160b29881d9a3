// A drawing as plain data: built without a browser, then shown as SVG elements
// or written as SVG text, so that what is exported is what is seen.

/**
 * @typedef {object} Node
 * @property {string} tag
 * @property {Record<string, string|number|undefined>} attrs
 * @property {(Node|string)[]} kids
 */

const SVG = "http://www.w3.org/2000/svg";

/**
 * Returns a node. Attributes that are undefined are left out; kids may be
 * nested lists and hold null for "nothing here".
 * @param {string} tag
 * @param {Record<string, string|number|undefined|null>} [attrs]
 * @param {...any} kids
 * @returns {Node}
 */
export function el(tag, attrs = {}, ...kids) {
  return { tag, attrs, kids: kids.flat(Infinity).filter((k) => k !== null && k !== undefined) };
}

/**
 * Writes a number with at most so many decimals and no needless zeros.
 * @param {number} x
 * @param {number} [decimals]
 */
export function num(x, decimals = 2) {
  const s = x.toFixed(decimals);
  const cut = s.includes(".") ? s.replace(/\.?0+$/, "") : s;
  return cut === "-0" ? "0" : cut;
}

/** @param {Node} node @param {Document} doc @returns {SVGElement} */
export function toDom(node, doc = document) {
  const e = doc.createElementNS(SVG, node.tag);
  for (const [name, value] of Object.entries(node.attrs)) {
    if (value !== undefined && value !== null) e.setAttribute(name, String(value));
  }
  for (const kid of node.kids) e.append(typeof kid === "string" ? kid : toDom(kid, doc));
  return /** @type {SVGElement} */ (e);
}

const escapes = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" };
/** @param {string} s */
const escape = (s) => s.replace(/[&<>"]/g, (c) => escapes[/** @type {"&"} */ (c)]);

/**
 * Writes a node as SVG text that stands alone in a file.
 * @param {Node} node
 * @returns {string}
 */
export function toMarkup(node) {
  const root = { ...node, attrs: { xmlns: SVG, ...node.attrs } };
  return '<?xml version="1.0" encoding="UTF-8"?>\n' + markup(root) + "\n";
}

/** @param {Node|string} node @returns {string} */
function markup(node) {
  if (typeof node === "string") return escape(node);
  const attrs = Object.entries(node.attrs)
    .filter(([, v]) => v !== undefined && v !== null)
    .map(([k, v]) => ` ${k}="${escape(String(v))}"`)
    .join("");
  if (node.kids.length === 0) return `<${node.tag}${attrs}/>`;
  return `<${node.tag}${attrs}>${node.kids.map(markup).join("")}</${node.tag}>`;
}
