// Following a live bench: the newest state, and again after the browser slept.

import { h } from "./html.js";

/** State is asked for at most so often while changes come in. */
const EVERY_MS = 500;
/** Without a word for so long (the server speaks every 15 s) the line counts as cut. */
const SILENCE_MS = 40000;

export class Live {
  /** @param {HTMLElement} host @param {(state: any) => void} show */
  constructor(host, show) {
    this.show = show;
    host.hidden = false;
    this.line = h("output", { class: "live-line" });
    host.append(h("strong", {}, "Live"), " ", this.line);
    /** @type {EventSource|null} */
    this.source = null;
    this.asked = false;
    this.heard = performance.now();
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") this.connect();
    });
    addEventListener("pageshow", (e) => e.persisted && this.connect());
    addEventListener("online", () => this.connect());
    setInterval(() => {
      if (performance.now() - this.heard > SILENCE_MS) this.connect();
    }, 5000);
    this.connect();
  }

  /** A new line begins with the whole state: nothing that was missed can be missing. */
  connect() {
    this.source?.close();
    this.heard = performance.now();
    this.line.textContent = "connecting";
    const source = (this.source = new EventSource("api/live"));
    source.addEventListener("state", (e) => this.take(e.data));
    source.addEventListener("change", () => this.fetchSoon());
    source.addEventListener("error", () => {
      this.line.textContent = "the line is cut; trying again";
    });
  }

  fetchSoon() {
    this.heard = performance.now();
    if (this.asked) return;
    this.asked = true;
    setTimeout(async () => {
      this.asked = false;
      try {
        const answer = await fetch("api/live/state", { cache: "no-store" });
        if (answer.ok) this.take(await answer.text());
      } catch {
        this.line.textContent = "the line is cut; trying again";
      }
    }, EVERY_MS);
  }

  /** @param {string} text */
  take(text) {
    this.heard = performance.now();
    const state = JSON.parse(text);
    if (state === null) {
      this.line.textContent = "waiting for the first position";
      return;
    }
    this.line.textContent = "following";
    this.show(state);
  }
}
