// The user's own files in place of the demo's, with what is wrong beside the
// file that it is wrong in.

import { h } from "./html.js";

const parts = [
  { part: "log", label: "Log", what: "NMEA 0183, ISO 11783-10 task data as a zip, or a CAN trace; may be gzipped", accept: ".nmea,.log,.txt,.gz,.zip,.asc,.trc,.blf,.pcap,.pcapng" },
  { part: "machine", label: "Machine", what: "YAML", accept: ".yaml,.yml" },
  { part: "field", label: "Field", what: "GeoJSON, KML, KMZ, GPX or a zipped shapefile", accept: ".geojson,.json,.kml,.kmz,.gpx,.zip" },
  { part: "states", label: "Work states", what: "CSV with time, section, setpoint or actual", accept: ".csv" },
];

export class Upload {
  /**
   * @param {HTMLElement} host
   * @param {Record<string, number>} limits   most bytes by part, as the server says them
   * @param {(files: import("./api.js").Files) => void} changed
   */
  constructor(host, limits, changed) {
    this.limits = limits;
    this.changed = changed;
    /** @type {import("./api.js").Files} */
    this.files = {};
    this.fields = new Map(parts.map(({ part, label, what, accept }) => {
      const id = `own-${part}`;
      const input = h("input", { type: "file", id, accept, "aria-describedby": `${id}-what ${id}-fault`, onchange: () => this.take(part, input.files[0]) });
      const fault = h("p", { class: "fault", id: `${id}-fault`, role: "alert" });
      host.append(h("div", { class: "own" },
        h("label", { for: id }, label),
        h("p", { class: "words", id: `${id}-what` }, `${what}, at most ${size(this.mostOf(part))}.`), input, fault));
      return [part, { input, fault, refused: "" }];
    }));
    // The zone is text, and goes with the files as one.
    this.zone = h("input", { type: "text", id: "own-zone", placeholder: "Europe/Berlin or +02:00", maxlength: "100", autocomplete: "off",
      "aria-describedby": "own-zone-what own-zone-fault", onchange: () => this.zoned() });
    const fault = h("p", { class: "fault", id: "own-zone-fault", role: "alert" });
    host.append(h("div", { class: "own" },
      h("label", { for: "own-zone" }, "Time zone of the work states"),
      h("p", { class: "words", id: "own-zone-what" }, "Used where their times say none, as those of a spreadsheet or a terminal."), this.zone, fault));
    this.fields.set("zone", { input: this.zone, fault, refused: "" });
    this.clear = h("button", { type: "button", onclick: () => this.reset() }, "Back to the demo’s files");
    host.append(this.clear);
    this.clear.hidden = true;
    host.addEventListener("dragover", (e) => e.preventDefault());
    host.addEventListener("drop", (e) => {
      e.preventDefault();
      for (const file of e.dataTransfer?.files ?? []) this.drop(file);
    });
  }

  /** Takes a file that was dropped: by its name the part that alone has such names, else as the log, which tells its form by its content. @param {File} file */
  drop(file) {
    const ends = (/** @type {string} */ accept) => accept.split(",").some((end) => file.name.toLowerCase().endsWith(end));
    const [first, second] = parts.filter((p) => ends(p.accept));
    const part = first && !second ? first.part : "log";
    const list = new DataTransfer();
    list.items.add(file);
    this.fields.get(part).input.files = list.files;
    this.take(part, file);
  }

  /** @param {string} part */
  mostOf(part) {
    return this.limits[`${part}_bytes`] ?? this.limits.upload_bytes;
  }

  /** @param {string} part @param {File|undefined} file */
  take(part, file) {
    const field = this.fields.get(part);
    field.refused = "";
    this.fault(part, "");
    if (!file) delete this.files[part];
    else if (file.size > this.mostOf(part)) {
      field.input.value = "";
      delete this.files[part];
      field.refused = `${file.name} holds ${size(file.size)}; expected at most ${size(this.mostOf(part))}.`;
      this.fault(part, "");
    } else this.files[part] = file;
    this.withZone();
    this.clear.hidden = Object.keys(this.files).length === 0;
    this.changed(this.files);
  }

  zoned() {
    this.fault("zone", "");
    this.withZone();
    if (this.files.states) this.changed(this.files);
  }

  /** Sends the zone along with work states only: other files need none. */
  withZone() {
    const zone = this.zone.value.trim();
    if (zone && this.files.states) this.files.zone = new File([zone], "zone");
    else delete this.files.zone;
  }

  reset() {
    this.files = {};
    for (const [part, field] of this.fields) {
      field.input.value = field.refused = "";
      this.fault(part, "");
    }
    this.clear.hidden = true;
    this.changed(this.files);
  }

  /** Shows what an answer says is wrong with one file, or clears all; a file that was refused here stays named. @param {string|null} part @param {string} text @returns {boolean} whether there is such a field */
  fault(part, text) {
    for (const [name, { input, fault, refused }] of this.fields) {
      if (part !== null && name !== part) continue;
      fault.textContent = text || refused;
      if (text || refused) input.setAttribute("aria-invalid", "true");
      else input.removeAttribute("aria-invalid");
    }
    return part !== null && this.fields.has(part);
  }
}

/** @param {number|undefined} bytes */
function size(bytes) {
  if (bytes === undefined) return "what the server takes";
  if (bytes >= 1 << 20) return `${Math.round((bytes / (1 << 20)) * 10) / 10} MiB`;
  return bytes >= 1024 ? `${Math.round(bytes / 1024)} KiB` : `${bytes} bytes`;
}
