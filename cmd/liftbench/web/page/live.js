// Following a live bench: the newest state, and again after the browser slept.

import { h } from "./html.js";

/** State is asked for at most so often while changes come in. */
const EVERY_MS = 500;
/** Without a word for so long (the server speaks every 15 s) the line counts as cut. */
const SILENCE_MS = 40000;

export class Live {
  /** @param {HTMLElement} host @param {(state: any) => void} show   gets each state, of which none is older than the one before */
  constructor(host, show) {
    this.show = show;
    this.line = h("output", { class: "live-line" });
    this.follow = h("input", { type: "checkbox", id: "follow", checked: true });
    host.append(h("strong", {}, "Live"), " ", this.line, " ", h("label", { for: "follow" }, this.follow, " cursor at the newest position"));
    host.hidden = false;
    /** @type {EventSource|null} */
    this.source = null;
    this.asked = false;
    this.heard = performance.now();
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.connect());
    addEventListener("pageshow", (e) => e.persisted && this.connect());
    addEventListener("online", () => this.connect());
    setInterval(() => performance.now() - this.heard > SILENCE_MS && this.connect(), 5000);
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
    this.heard = performance.now();
    this.say("connecting");
    const source = (this.source = new EventSource("api/live"));
    source.addEventListener("state", (e) => this.take(e.data));
    source.addEventListener("open", () => this.fetchSoon());
    source.addEventListener("change", () => this.fetchSoon());
    source.addEventListener("alive", () => (this.heard = performance.now()));
    source.addEventListener("error", () => this.say("the line is cut; trying again"));
  }

  fetchSoon() {
    this.heard = performance.now();
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
    this.heard = performance.now();
    const state = JSON.parse(text);
    this.say(state === null ? "waiting for the first position" : "following");
    if (state !== null) this.show(state);
  }

  /** @param {string} text */
  say(text) {
    if (this.line.textContent !== text) this.line.textContent = text;
  }
}
