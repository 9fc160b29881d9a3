// Following a live bench: the newest state, again after the browser slept, and
// what the bench is at this instant.

import { h } from "./html.js";
import { bannerOf, lineOf, SILENCE_MS } from "./instant.js";

/** State is asked for at most so often while changes come in. */
const EVERY_MS = 500;
/** How often the age of what is shown is looked at. */
const LOOK_MS = 100;
/** After so long without a word a new line is opened. */
const RECONNECT_MS = 6000;

export class Live {
  /**
   * @param {HTMLElement} host
   * @param {HTMLElement} stage   what the banner stands above
   * @param {(state: any) => void} show   gets each state, of which none is older than the one before
   */
  constructor(host, stage, show) {
    this.show = show;
    this.line = h("output", { class: "live-line" });
    this.now = h("span", { class: "live-now" });
    this.follow = h("input", { type: "checkbox", id: "follow", checked: true });
    host.append(h("strong", {}, "Live"), " ", this.line, " ", h("label", { for: "follow" }, this.follow, " cursor at the newest position"), " ", this.now,
      h("span", { class: "live-note" }, "Setpoints are the controller's; heights and work states are simulated from them: what the tools really do is not heard."));
    host.hidden = false;
    this.bannerText = h("p", {});
    this.banner = h("div", { class: "banner", role: "alert", hidden: true }, this.bannerText);
    stage.before(this.banner);
    /** @type {import("./instant.js").Instant|null} */
    this.instant = null;
    /** @type {EventSource|null} */
    this.source = null;
    this.asked = false;
    this.waiting = false;
    this.heard = performance.now();
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.connect());
    addEventListener("pageshow", (e) => e.persisted && this.connect());
    addEventListener("online", () => this.connect());
    this.tried = this.heard;
    setInterval(() => this.look(), LOOK_MS);
    this.connect();
  }

  /** Whether the cursor goes with the newest position. */
  get follows() {
    return this.follow.checked;
  }

  /** The user looks elsewhere. */
  leave() {
    this.follow.checked = false;
  }

  /** A new line begins with the whole state; one that the browser mends is asked for it. */
  connect() {
    this.source?.close();
    this.tried = performance.now();
    this.say("connecting");
    const source = (this.source = new EventSource("api/live"));
    source.addEventListener("state", (e) => this.take(e.data));
    source.addEventListener("open", () => this.fetchSoon());
    source.addEventListener("change", () => this.fetchSoon());
    source.addEventListener("now", (e) => this.tell(JSON.parse(e.data)));
    source.addEventListener("error", () => this.say("the line is cut; trying again"));
  }

  /** Says how old what is shown is, and opens a new line where the old one is dumb. */
  look() {
    const t = performance.now();
    const silent = t - this.heard;
    if (silent > SILENCE_MS) this.say("the line is cut; trying again");
    this.warn(bannerOf(this.instant, silent));
    if (silent > RECONNECT_MS && t - this.tried > RECONNECT_MS) this.connect();
  }

  /** @param {import("./instant.js").Instant} instant */
  tell(instant) {
    this.heard = performance.now();
    this.instant = instant;
    this.now.textContent = lineOf(instant);
    this.say(this.waiting ? "waiting for the first position" : "following");
    this.look();
  }

  /** @param {string|null} text */
  warn(text) {
    this.banner.hidden = text === null;
    if (text !== null && this.bannerText.textContent !== text) this.bannerText.textContent = text;
  }

  fetchSoon() {
    if (this.asked) return;
    this.asked = true;
    setTimeout(async () => {
      const source = this.source;
      try {
        const answer = await fetch("api/live/state", { cache: "no-store" });
        // A line opened meanwhile has brought a newer state.
        if (answer.ok && source === this.source) this.take(await answer.text());
      } catch {
        this.say("the line is cut; trying again");
      } finally {
        this.asked = false;
      }
    }, EVERY_MS);
  }

  /** @param {string} text */
  take(text) {
    const state = JSON.parse(text);
    this.waiting = state === null;
    if (state !== null) this.show(state);
  }

  /** @param {string} text */
  say(text) {
    if (this.line.textContent !== text) this.line.textContent = text;
  }
}
