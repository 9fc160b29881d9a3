// Colours of the figures: Okabe and Ito's (jfly.uni-koeln.de/color, 2008), the
// same on light and on dark ground; only lines, text and ground change.

/**
 * @typedef {object} Palette
 * @property {string} ground   behind the drawing
 * @property {string} ink   reference lines and text
 * @property {string} faint   grid
 * @property {string} quiet   secondary text
 * @property {string} body   body zone
 * @property {string} headland   headland zone
 * @property {string} keepOut   keep-out zone
 * @property {string} soil   ground below the surface in a profile
 * @property {string} inWork
 * @property {string} raised
 * @property {string} late   late, and overrun
 * @property {string} early
 * @property {string} miss
 */

const okabeIto = {
  inWork: "#0072B2",
  raised: "#BBBBBB",
  late: "#D55E00",
  early: "#56B4E9",
  miss: "#CC79A7",
};

/** @type {Palette} */
export const light = {
  ...okabeIto,
  ground: "#FFFFFF",
  ink: "#000000",
  faint: "#DDDDDD",
  quiet: "#555555",
  body: "#F7F6F1",
  headland: "#ECEAE0",
  keepOut: "#FFFFFF",
  soil: "#E9E4D8",
};

/** @type {Palette} */
export const dark = {
  ...okabeIto,
  ground: "#15181B",
  ink: "#FFFFFF",
  faint: "#3A3F44",
  quiet: "#B4BAC0",
  body: "#22262A",
  headland: "#2D3236",
  keepOut: "#15181B",
  soil: "#36322B",
};
