// Of many questions in a row one is worked on, then the newest.

import test from "node:test";
import assert from "node:assert/strict";
import { latest } from "../page/latest.js";

/** A timer that runs when told. */
function handTimer() {
  let next = 0;
  let nowMs = 0;
  const waiting = new Map();
  return {
    set(f, ms) {
      waiting.set(++next, { f, atMs: nowMs + ms });
      return next;
    },
    clear: (id) => waiting.delete(id),
    nowMs: () => nowMs,
    /** Lets time go on. */
    pass(ms) {
      nowMs += ms;
      for (const [id, { f, atMs }] of [...waiting]) if (atMs <= nowMs && waiting.delete(id)) f();
    },
    get size() {
      return waiting.size;
    },
  };
}

/** Work that ends when told. */
function handWork() {
  const calls = [];
  return {
    calls,
    work: (arg, signal) => new Promise((resolve, reject) => {
      calls.push({ arg, signal, resolve, reject });
      signal.addEventListener("abort", () => reject(signal.reason));
    }),
  };
}

const settle = () => new Promise((r) => setImmediate(r));

test("of a burst the newest is worked on", async () => {
  const timer = handTimer();
  const { work, calls } = handWork();
  const done = [];
  const l = latest({ work, done: (r, a) => done.push([r, a]), failed: assert.fail, waitMs: 50, timer });
  for (let i = 0; i < 50; i++) l.ask(i);
  assert.equal(timer.size, 1);
  timer.pass(50);
  assert.deepEqual(calls.map((c) => c.arg), [49]);
  calls[0].resolve("r");
  await settle();
  assert.deepEqual(done, [["r", 49]]);
});

test("a burst that does not end is answered on the way", async () => {
  const timer = handTimer();
  const { work, calls } = handWork();
  const done = [];
  const l = latest({ work, done: (r, a) => done.push(a), failed: assert.fail, waitMs: 20, timer });
  // A question each 8 ms, an answer 20 ms after its work began.
  let endMs = Infinity;
  for (let ms = 0; ms < 400; ms += 4) {
    if (ms % 8 === 0) l.ask(ms);
    timer.pass(4);
    const open = calls.at(-1);
    if (open && !open.started) [open.started, endMs] = [true, ms + 20];
    if (ms >= endMs) {
      open.resolve();
      endMs = Infinity;
      await settle();
    }
  }
  assert.ok(done.length >= 14, `${done.length} answers on the way`);
  assert.deepEqual(done, [...done].sort((a, b) => a - b));
});

test("work in progress is finished and shown, then the newest is taken", async () => {
  const timer = handTimer();
  const { work, calls } = handWork();
  const done = [];
  const l = latest({ work, done: (r) => done.push([r, l.waits()]), failed: assert.fail, timer });
  l.ask(1);
  timer.pass(0);
  l.ask(2);
  l.ask(3);
  timer.pass(100);
  assert.equal(calls.length, 1);
  assert.equal(calls[0].signal.aborted, false);
  calls[0].resolve("first");
  await settle();
  assert.deepEqual(done, [["first", true]]);
  assert.deepEqual(calls.map((c) => c.arg), [1, 3]);
  assert.equal(l.busy(), true);
  calls[1].resolve("newest");
  await settle();
  assert.deepEqual(done, [["first", true], ["newest", false]]);
  assert.equal(l.busy(), false);
  assert.equal(timer.size, 0);
});

test("work that takes long is given up for a newer question, and its late answer is left", async () => {
  const timer = handTimer();
  const ends = [];
  const signals = [];
  const done = [];
  const l = latest({ work: (arg, signal) => (signals.push(signal), new Promise((r) => ends.push(r))), done: (r) => done.push(r), failed: assert.fail, patienceMs: 1000, timer });
  l.ask(1);
  timer.pass(0);
  timer.pass(700);
  l.ask(2); // may wait 300 ms
  timer.pass(299);
  assert.equal(signals[0].aborted, false);
  timer.pass(1);
  assert.equal(signals[0].aborted, true);
  assert.equal(ends.length, 2);
  ends[1]("new");
  await settle();
  ends[0]("old");
  await settle();
  assert.deepEqual(done, ["new"]);
  l.ask(3);
  timer.pass(0);
  timer.pass(5000); // no newer question: nothing is given up
  assert.equal(signals[2].aborted, false);
});

test("an error is told, what waits is still worked on, and after stop nothing is", async () => {
  const timer = handTimer();
  const { work, calls } = handWork();
  const failed = [];
  const l = latest({ work, done: assert.fail, failed: (e) => failed.push(e), timer });
  l.ask(1);
  timer.pass(0);
  l.ask(2);
  calls[0].reject("bad");
  await settle();
  assert.deepEqual(failed, ["bad"]);
  assert.equal(calls.length, 2);
  l.ask(3);
  l.stop();
  timer.pass(5000);
  await settle();
  assert.equal(calls[1].signal.aborted, true);
  assert.equal(calls.length, 2);
  assert.deepEqual(failed, ["bad"]);
  assert.equal(l.waits(), false);
});
