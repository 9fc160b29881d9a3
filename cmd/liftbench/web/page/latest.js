// Of many requests in a row only the newest counts: abort the request under
// way at once, wait for a pause, and let no older answer through.

/**
 * @template A, R
 * @typedef {object} Latest
 * @property {(arg: A, waitMs?: number) => void} ask
 * @property {() => void} stop
 */

/**
 * Returns a function pair that runs `work` for the newest argument only.
 * @template A, R
 * @param {object} o
 * @param {(arg: A, signal: AbortSignal) => Promise<R>} o.work
 * @param {(result: R, arg: A) => void} o.done
 * @param {(error: unknown, arg: A) => void} o.failed
 * @param {number} [o.waitMs] pause after which work starts
 * @param {{set: (f: () => void, ms: number) => any, clear: (id: any) => void}} [o.timer]
 * @returns {Latest<A, R>}
 */
export function latest({ work, done, failed, waitMs = 60, timer = browserTimer }) {
  let pending = null;
  /** @type {AbortController|null} */
  let running = null;

  /** Leaves the question that waits, and the answer of the one under way. */
  function leave() {
    if (pending !== null) timer.clear(pending);
    pending = null;
    running?.abort();
    running = null;
  }

  async function run(arg) {
    const mine = (running = new AbortController());
    try {
      const result = await work(arg, mine.signal);
      if (running === mine) done(result, arg);
    } catch (e) {
      if (running === mine && !mine.signal.aborted) failed(e, arg);
    } finally {
      if (running === mine) running = null;
    }
  }

  return {
    ask(arg, wait = waitMs) {
      leave();
      pending = timer.set(() => {
        pending = null;
        run(arg);
      }, wait);
    },
    stop: leave,
  };
}

const browserTimer = {
  set: (f, ms) => setTimeout(f, ms),
  clear: (id) => clearTimeout(id),
};
