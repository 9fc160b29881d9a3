// Of many questions in a row: let the one that is being worked on finish, then take the newest. So a slider that is
// dragged shows what is on its way, and ends with what it was left at. Work that takes long is given up for a newer
// question.

/**
 * @template A, R
 * @typedef {object} Latest
 * @property {(arg: A) => void} ask
 * @property {() => boolean} waits   whether a newer question than the one answered last waits
 * @property {() => boolean} busy   whether a question waits or is worked on
 * @property {() => void} stop
 */

/**
 * Returns functions that run `work` for one question at a time. Answers come in the order of the questions.
 * @template A, R
 * @param {object} o
 * @param {(arg: A, signal: AbortSignal) => Promise<R>} o.work
 * @param {(result: R, arg: A) => void} o.done
 * @param {(error: unknown, arg: A) => void} o.failed
 * @param {number} [o.waitMs] from the first question to the start of work, which then takes the newest
 * @param {number} [o.patienceMs] how long work may go on while a newer question waits
 * @param {{set: (f: () => void, ms: number) => any, clear: (id: any) => void, nowMs: () => number}} [o.timer]
 * @returns {Latest<A, R>}
 */
export function latest({ work, done, failed, waitMs = 0, patienceMs = 1000, timer = browserTimer }) {
  /** The newest question that waits. @type {{arg: A}|null} */
  let next = null;
  let pending = null;
  /** @type {AbortController|null} */
  let running = null;
  let patientUntilMs = 0;
  let givenUp = null;

  async function run() {
    pending = null;
    const { arg } = next;
    next = null;
    const mine = (running = new AbortController());
    patientUntilMs = timer.nowMs() + patienceMs;
    try {
      const result = await work(arg, mine.signal);
      if (running === mine) done(result, arg);
    } catch (e) {
      if (running === mine && !mine.signal.aborted) failed(e, arg);
    } finally {
      if (running === mine) {
        running = null;
        if (givenUp !== null) timer.clear(givenUp);
        givenUp = null;
        if (next) run();
      }
    }
  }

  function giveUp() {
    givenUp = null;
    const old = running;
    running = null; // whatever it still answers is left
    old?.abort();
    if (next) run();
  }

  return {
    ask(arg) {
      next = { arg };
      if (running === null) pending ??= timer.set(run, waitMs);
      else givenUp ??= timer.set(giveUp, Math.max(0, patientUntilMs - timer.nowMs()));
    },
    waits: () => next !== null,
    busy: () => next !== null || running !== null,
    stop() {
      for (const id of [pending, givenUp]) if (id !== null) timer.clear(id);
      pending = givenUp = next = null;
      const old = running;
      running = null;
      old?.abort();
    },
  };
}

const browserTimer = {
  set: (f, ms) => setTimeout(f, ms),
  clear: (id) => clearTimeout(id),
  nowMs: () => performance.now(),
};
