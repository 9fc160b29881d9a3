// The page: what is set, what is looked at, and who has to know when either
// changes.

import { ask, askCloseup, askFile, askGiven, askPage, ApiError } from "./api.js";
import { latest } from "./latest.js";
import { decodeDrive, decodeCloseup } from "./drive.js";
import { nearestInTime, sameCrossing, worst } from "./crossing-list.js";
import { readLink, writeLink } from "./link.js";
import { Controls } from "./controls.js";
import { Lessons } from "./lessons.js";
import { Numbers } from "./numbers.js";
import { Plan } from "./plan.js";
import { CloseupFigure } from "./closeup.js";
import { Strip } from "./strip.js";
import { Scatter, cloudOf, decodeSpeeds } from "./scatter.js";
import { Upload } from "./upload.js";
import { showDiagnosis } from "./diagnosis.js";
import { Live } from "./live.js";
import { closeupOf } from "./own-closeup.js";
import { saveBlob } from "./save.js";
import { byId } from "./html.js";
import { clock, counted } from "./format.js";

/** @typedef {import("./drive.js").Drive} Drive */

class App {
  /** @param {any} page   answer to /api/page */
  constructor(page) {
    this.page = page;
    /** @type {import("./link.js").PageState} */
    this.state = { setting: {}, pinned: null, lesson: null, crossing: null };
    /** @type {import("./api.js").Files} */
    this.files = {};
    /** @type {Drive|null} */
    this.drive = null;
    /** @type {Drive|null} */
    this.pinned = null;
    this.t = 0;
    /** The crossing that was picked last. @type {import("./drive.js").Crossing|null} */
    this.picked = null;
    /** What the drive on the screen is the answer to: a newer question may wait. */
    this.shown = null;
    /** What a link held that could not be set; said until the user sets something. */
    this.doubt = "";

    this.controls = new Controls(byId("turn"), byId("knobs"), page.controls, (k, v, settled) => this.turn(k, v, settled));
    this.lessons = new Lessons(byId("lessons"), page.lessons, (l) => this.learn(l));
    this.numbers = new Numbers(byId("numbers"), byId("short"), byId("spoken"));
    this.plan = new Plan(byId("plan"), (i) => this.pick(i));
    this.closeup = new CloseupFigure(byId("crossing-figure"), (i) => this.pick(i), (t) => this.moveTo(t, false));
    this.strip = new Strip(byId("strip"), (t) => this.moveTo(t, true));
    this.scatter = new Scatter(byId("speed"));
    this.upload = new Upload(byId("own-files"), page.limits, (files) => this.use(files));

    this.running = latest({
      waitMs: 0,
      work: ({ setting, files }, signal) => ask("api/run", setting, files, signal),
      done: (a, question) => {
        this.shown = question;
        this.driven(decodeDrive(a));
      },
      failed: (e) => this.failed(e),
    });
    this.looking = latest({
      waitMs: 0,
      work: ({ drive, crossing, setting, files }, signal) => askCloseup(drive, crossing, setting, files, signal, () => this.running.busy() || drive !== this.drive?.name),
      done: (a) => a && this.drive && this.closeup.showCloseup(decodeCloseup(a, this.drive.depth)),
      failed: (e) => this.failed(e),
    });
    this.sweeping = latest({
      waitMs: 500,
      work: ({ setting, files }, signal) => ask("api/speeds", setting, files, signal),
      done: (a) => this.scatter.show(decodeSpeeds(a), "The same setting driven at five speeds."),
      failed: (e) => this.failed(e),
    });
    this.pinning = latest({
      waitMs: 0,
      work: ({ setting, files }, signal) => ask("api/run", setting, files, signal),
      done: (a) => this.pin(decodeDrive(a)),
      failed: (e) => this.failed(e),
    });
    this.following = latest({ waitMs: 120, work: async (t) => t, done: (t) => this.follow(t), failed: () => {} });

    byId("all-settings").open = matchMedia("(min-width: 62rem)").matches;
    this.buttons();
    addEventListener("popstate", () => this.open());
    addEventListener("hashchange", () => this.open());
    /** @type {Live|null} */
    this.live = page.live ? new Live(byId("live"), this.plan.frame.stage, (a) => this.driven({ ...decodeDrive(a), live: true })) : null;
    // Nothing to set, to pin or to upload: the machine out there is what is shown.
    if (this.live) for (const id of ["setting", "result", "own", "save"]) byId(id).hidden = true;
    this.open();
  }

  buttons() {
    byId("pin").addEventListener("click", () => {
      this.state.pinned = { ...this.state.setting };
      this.pin(this.drive);
      this.remember(true);
    });
    byId("unpin").addEventListener("click", () => {
      this.state.pinned = null;
      this.pin(null);
      this.remember(true);
    });
    byId("swap").addEventListener("click", () => {
      if (!this.state.pinned || !this.drive || !this.pinned) return;
      [this.state.setting, this.state.pinned] = [this.state.pinned, this.state.setting];
      this.pinned = this.drive;
      this.controls.set(this.state.setting);
      this.remember(true);
      this.run();
    });
    byId("reset").addEventListener("click", () => {
      this.state.setting = {};
      this.state.lesson = null;
      this.showSetting();
      this.remember(true);
      this.run();
    });
    for (const name of ["setting.yaml", "events.csv", "summary.json", "ground.geojson", "report.html"]) {
      byId(`save-${name}`).addEventListener("click", async () => {
        try {
          saveBlob(await askFile(`api/${name}`, this.state.setting, this.files), `liftbench-${name}`);
        } catch (e) {
          this.failed(e);
        }
      });
    }
  }

  /** Takes the whole state from the link. */
  open() {
    const fragment = location.hash;
    if (fragment === this.written) return;
    this.written = fragment;
    const { unknown, ...state } = readLink(fragment, this.page.controls);
    const pinChanged = JSON.stringify(state.pinned) !== JSON.stringify(this.state.pinned);
    this.state = state;
    this.showSetting();
    this.doubt = unknown.length ? `The link holds what this page does not know, or out of range: ${unknown.join(", ")}. The rest of it is set.` : "";
    if (pinChanged) {
      this.pin(null);
      if (state.pinned) this.pinning.ask({ setting: state.pinned, files: this.files });
    }
    this.run();
  }

  showSetting() {
    const lesson = this.lessons.find(this.state.lesson);
    this.lessons.show(lesson);
    this.controls.arrange(lesson?.turn ?? []);
    byId("turn-group").hidden = !lesson;
    this.controls.set(this.state.setting);
  }

  /** Writes the state into the link. @param {boolean} step   whether "back" leads here */
  remember(step) {
    const fragment = writeLink(this.state, this.page.controls);
    if (fragment === this.written) return;
    this.written = fragment;
    this.doubt = "";
    if (step) history.pushState(null, "", fragment);
    else history.replaceState(null, "", fragment);
  }

  turn(key, value, settled) {
    const control = this.page.controls.find((c) => c.key === key);
    if (value === control.default) delete this.state.setting[key];
    else this.state.setting[key] = value;
    if (settled) this.remember(true);
    this.run();
  }

  /** @param {import("./lessons.js").Lesson|null} lesson */
  learn(lesson) {
    this.state.lesson = lesson?.key ?? null;
    if (lesson) this.state.setting = { ...lesson.set };
    this.state.crossing = null;
    this.showSetting();
    this.remember(true);
    this.run();
  }

  /** @param {import("./api.js").Files} files */
  use(files) {
    this.files = { ...files };
    this.state.crossing = null;
    this.run();
    if (this.state.pinned) this.pinning.ask({ setting: this.state.pinned, files: this.files });
  }

  question() {
    return { setting: { ...this.state.setting }, files: this.files };
  }

  run() {
    if (this.live) return;
    byId("busy").hidden = false;
    this.sweeping.stop();
    this.running.ask(this.question());
  }

  /** @param {Drive} drive */
  driven(drive) {
    byId("busy").hidden = !this.running.waits();
    const first = this.drive === null;
    this.drive = drive;
    this.controls.fault(null, "");
    this.upload.fault(null, "");
    this.controls.fix(drive.fixed);
    this.controls.hint("lift_lead_ms", `${Math.round(drive.leads.lift * 1000)} ms`);
    this.controls.hint("drop_lead_ms", `${Math.round(drive.leads.drop * 1000)} ms`);
    byId("drive-title").textContent = [drive.title, `${clock(drive.duration)} min`, drive.distance > 0 && `${(drive.distance / 1000).toFixed(2)} km`, counted(drive.sections.length, "section")].filter(Boolean).join(", ");
    byId("straight").hidden = !drive.straight;
    byId("straight").textContent = drive.straight ? `The driver: ${drive.straight.text}` : "";
    this.warn(drive.warnings);
    showDiagnosis(byId("diagnosis"), drive.diagnosis);
    const { crossings } = drive;
    if (this.live?.follows) this.picked = crossings[crossings.length - 1] ?? null;
    if (this.live) this.state.crossing = sameCrossing(crossings, this.picked);
    let i = this.state.crossing;
    if (this.live && i !== null && i < 0) i = null;
    else if (i === null || i < 0 || i >= crossings.length) i = crossings.length ? firstOf(crossings, this.watch().startsWith("drop")) : null;
    this.state.crossing = i;
    this.numbers.show(drive, this.pinned, this.watch());
    const kept = !first && i !== null && this.t >= crossings[i].from - 2 && this.t <= crossings[i].until + 2;
    if (this.live) {
      if (this.live.follows) this.t = drive.duration;
    } else if (!kept) this.centre(i === null ? 0 : (crossings[i].from + crossings[i].until) / 2);
    this.showDrive();
    this.look();
    const sweep = !this.live && drive.simulated && Object.keys(this.files).length === 0;
    if (sweep) this.sweeping.ask(this.question());
    this.scatter.show(cloudOf(drive), sweep ? "The same setting is being driven at five speeds." : "");
    this.say(this.doubt);
  }

  watch() {
    return this.lessons.find(this.state.lesson)?.watch ?? "";
  }

  showDrive() {
    const { drive, state, t } = this;
    if (!drive) return;
    this.plan.show(drive, state.crossing, t);
    this.strip.show(drive, t);
    this.closeup.list(drive, state.crossing);
    this.closeup.at(t);
  }

  look() {
    const c = this.drive?.crossings[this.state.crossing ?? -1];
    if (this.live && this.drive) return c && this.closeup.showCloseup(closeupOf(this.drive, c));
    if (this.state.crossing !== null) this.looking.ask({ ...(this.shown ?? this.question()), drive: this.drive?.name, crossing: this.state.crossing });
  }

  /** @param {number} i   crossing */
  pick(i) {
    if (!this.drive?.crossings[i]) return;
    this.closeup.stop();
    this.state.crossing = i;
    this.picked = this.drive.crossings[i];
    const c = this.drive.crossings[i];
    this.live?.leave();
    this.centre((c.from + c.until) / 2);
    this.remember(false);
    this.showDrive();
    this.look();
  }

  /** Puts the cursor, and the strip chart around it. @param {number} t s */
  centre(t) {
    this.t = t;
    this.strip.centre(t);
  }

  /** @param {number} t @param {boolean} follow   whether the close-up changes to the crossing nearest to it */
  moveTo(t, follow) {
    this.live?.leave();
    this.t = t;
    this.showDrive();
    if (follow) this.following.ask(t);
  }

  /** @param {number} t */
  follow(t) {
    if (!this.drive) return;
    const i = nearestInTime(this.drive.crossings, t);
    if (i < 0 || i === this.state.crossing) return;
    this.state.crossing = i;
    this.picked = this.drive.crossings[i];
    this.remember(false);
    this.showDrive();
    this.look();
  }

  /** @param {Drive|null} drive */
  pin(drive) {
    this.pinned = drive;
    const on = this.state.pinned !== null;
    byId("unpin").hidden = !on;
    byId("swap").hidden = !on;
    byId("pinned-setting").textContent = on ? `Pinned: ${this.inWords(this.state.pinned ?? {})}` : "";
    if (this.drive) this.numbers.show(this.drive, this.pinned, this.watch());
  }

  /** @param {import("./link.js").Setting} setting */
  inWords(setting) {
    const parts = this.page.controls.filter((c) => c.key in setting).map((c) => `${c.label} ${setting[c.key]}${c.unit && typeof setting[c.key] === "number" ? " " + c.unit : ""}`);
    return parts.length ? parts.join(", ") : "everything at its default";
  }

  /** @param {string[]} list */
  warn(list) {
    byId("warnings").hidden = list.length === 0;
    byId("warnings").replaceChildren(...list.map((w) => Object.assign(document.createElement("p"), { textContent: w })));
  }

  /** @param {string} text */
  say(text) {
    byId("trouble").textContent = text;
    byId("trouble").hidden = text === "";
  }

  /** Shows an error at the control or file that is at fault, or at the top. @param {unknown} e */
  failed(e) {
    byId("busy").hidden = true;
    const text = e instanceof ApiError ? e.message : `No answer from the server (${e instanceof Error ? e.message : e}). Is liftbench serve still running?`;
    if (e instanceof ApiError && e.key) {
      this.controls.fault(e.key, text);
      return;
    }
    if (e instanceof ApiError && e.file && this.upload.fault(e.file, text)) return;
    this.say(text);
  }
}

/**
 * The crossing to begin with: the first of its kind that every section makes, the worst one otherwise.
 * @param {import("./drive.js").Crossing[]} crossings @param {boolean} on   a drop is wanted, otherwise a lift
 */
function firstOf(crossings, on) {
  const most = Math.max(...crossings.map((c) => c.events.length));
  const whole = crossings.find((c) => c.on === on && c.events.length === most && c.events.every((e) => e.match === "paired"));
  return whole ? whole.index : worst(crossings);
}

async function start() {
  try {
    const page = await askPage();
    byId("safety").textContent = page.safety;
    byId("version").textContent = page.version;
    byId("measure").hidden = !page.measure;
    const app = new App(page);
    for (const file of await askGiven(page.given)) app.upload.drop(file);
  } catch (e) {
    byId("trouble").hidden = false;
    byId("trouble").textContent = `The page could not start: ${e instanceof Error ? e.message : e}`;
    throw e;
  }
}

start();
