// Of many requests in a row only the newest counts: wait for a pause, abort
// the request under way, and let no older answer through.

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

  async function run(arg) {
    running?.abort();
    const mine = (running = new AbortController());
    // A newer question may wait already, before its work starts.
    const newest = () => running === mine && pending === null;
    try {
      const result = await work(arg, mine.signal);
      if (newest()) done(result, arg);
    } catch (e) {
      if (newest() && !mine.signal.aborted) failed(e, arg);
    } finally {
      if (running === mine) running = null;
    }
  }

  return {
    ask(arg, wait = waitMs) {
      if (pending !== null) timer.clear(pending);
      pending = timer.set(() => {
        pending = null;
        run(arg);
      }, wait);
    },
    stop() {
      if (pending !== null) timer.clear(pending);
      pending = null;
      running?.abort();
      running = null;
    },
  };
}

const browserTimer = {
  set: (f, ms) => setTimeout(f, ms),
  clear: (id) => clearTimeout(id),
};
