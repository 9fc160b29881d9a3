// Decodes traces in the text forms of candump with canboatjs, for the tests of
// this package: decode.js FILE ... prints "= FILE" and a message a line, as JSON.
const fs = require("fs");
const path = require("path");
const { FromPgn } = require("@canboat/canboatjs");

for (const file of process.argv.slice(2)) {
  console.log("= " + path.basename(file));
  const parser = new FromPgn({ useCamel: false, returnNulls: true, checkForInvalidFields: false });
  parser.on("error", () => {});
  parser.on("warning", () => {});
  for (const line of fs.readFileSync(file, "latin1").split(/\r?\n/)) {
    if (line.trim() === "" || line.startsWith("#")) continue;
    const m = parser.parseString(line.trim().replace(/ [RT]$/, "")); // without the direction that python-can adds
    if (m) console.log(JSON.stringify({ pgn: m.pgn, src: m.src, fields: m.fields }));
  }
}
