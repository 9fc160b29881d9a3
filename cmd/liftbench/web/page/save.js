// Saving to the user's disk: SVG, PNG made from it, CSV and what the server writes.

import { toMarkup } from "./node.js";

/** @param {Blob} blob @param {string} name */
export function saveBlob(blob, name) {
  const url = URL.createObjectURL(blob);
  const a = document.createElement("a");
  a.href = url;
  a.download = name;
  a.click();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
}

/** @param {import("./node.js").Node} node */
const svgBlob = (node) => new Blob([toMarkup(node)], { type: "image/svg+xml" });

/** @param {import("./node.js").Node} node @param {string} name */
export const saveSvg = (node, name) => saveBlob(svgBlob(node), name + ".svg");

/** Pixels of a PNG for one of the drawing: enough for print at its own size. */
const PNG_SCALE = 3;

/** @param {import("./node.js").Node} node @param {string} name */
export async function savePng(node, name) {
  const url = URL.createObjectURL(svgBlob(node));
  try {
    const image = new Image();
    image.src = url;
    await image.decode();
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(Number(node.attrs.width) * PNG_SCALE);
    canvas.height = Math.round(Number(node.attrs.height) * PNG_SCALE);
    canvas.getContext("2d")?.drawImage(image, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/png"));
    if (blob) saveBlob(blob, name + ".png");
  } finally {
    URL.revokeObjectURL(url);
  }
}

/** @param {string} text @param {string} name */
export const saveCsv = (text, name) => saveBlob(new Blob([text], { type: "text/csv;charset=utf-8" }), name + ".csv");
