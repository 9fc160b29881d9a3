// Decodes zips of task data with npm isoxml and prints, as JSON, a list with of each its warnings and of each log the
// number of rows and the least and largest value of every column: node isoxml.cjs ZIP…
const fs = require("fs");
const JSZip = require("jszip");
const { ISOXMLManager } = require("isoxml");

// isoxml stops at references to files that are not there: they are taken out of the XML first.
async function withoutReferences(data) {
  const zip = await JSZip.loadAsync(data);
  const names = Object.keys(zip.files).map((name) => name.split("/").pop().toUpperCase());
  const main = Object.keys(zip.files).find((name) => /taskdata\.xml$/i.test(name));
  let xml = await zip.file(main).async("string");
  xml = xml.replace(/<XFR[^>]*A="([^"]*)"[^>]*\/>/g, (all, name) => (names.includes(name.toUpperCase() + ".XML") ? all : ""));
  xml = xml.replace(/<AFE[^>]*\/>/g, "");
  zip.file(main, xml);
  return zip.generateAsync({ type: "uint8array" });
}

async function decode(file) {
  const manager = new ISOXMLManager();
  await manager.parseISOXMLFile(await withoutReferences(fs.readFileSync(file)), "application/zip");
  const logs = [];
  for (const task of manager.rootElement.attributes.Task || []) {
    for (const log of task.attributes.TimeLog || []) {
      const name = log.attributes.Filename;
      if (!log.binaryData || !log.timeLogHeader) {
        logs.push({ log: name, missing: true });
        continue;
      }
      // Columns of messages on the bus share number and element: give each column an element of its own.
      (log.timeLogHeader.attributes.DataLogValue || []).forEach((column, k) => {
        column.attributes.DeviceElementIdRef = { xmlId: String(k) };
      });
      const { timeLogs } = log.parseBinaryFile();
      const columns = {}, position = {};
      const note = (into, key, value) => {
        if (!(key in into)) into[key] = [value, value, 0];
        into[key][0] = Math.min(into[key][0], value);
        into[key][1] = Math.max(into[key][1], value);
        into[key][2]++;
      };
      for (const row of timeLogs) {
        note(position, "time", +row.time);
        for (const [key, value] of Object.entries(row.position || {})) {
          if (value !== undefined && value !== null) note(position, key, +value);
        }
        for (const [key, value] of Object.entries(row.values)) note(columns, key.split("_")[1], value);
      }
      logs.push({ log: name, rows: timeLogs.length, columns, position, errors: log.parsingErrors });
    }
  }
  return { warnings: manager.getWarnings(), logs };
}

async function main() {
  const sets = [];
  for (const file of process.argv.slice(2)) sets.push(await decode(file));
  console.log(JSON.stringify(sets));
}

main().catch((error) => {
  console.error(String(error));
  process.exit(1);
});
