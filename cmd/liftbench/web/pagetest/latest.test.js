// Of many requests in a row only the newest counts.

import test from "node:test";
import assert from "node:assert/strict";
import { latest } from "../page/latest.js";

/** A timer that runs when told. */
function handTimer() {
  let next = 0;
  const waiting = new Map();
  return {
    set(f) {
      waiting.set(++next, f);
      return next;
    },
    clear: (id) => waiting.delete(id),
    fire() {
      const all = [...waiting.values()];
      waiting.clear();
      for (const f of all) f();
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

test("only the last of a burst is worked on", async () => {
  const timer = handTimer();
  const { work, calls } = handWork();
  const done = [];
  const l = latest({ work, done: (r, a) => done.push([r, a]), failed: assert.fail, timer });
  for (let i = 0; i < 50; i++) l.ask(i);
  assert.equal(timer.size, 1);
  timer.fire();
  assert.deepEqual(calls.map((c) => c.arg), [49]);
  calls[0].resolve("r");
  await settle();
  assert.deepEqual(done, [["r", 49]]);
});

test("a newer question aborts the older, whose answer and error are left", async () => {
  const timer = handTimer();
  const { work, calls } = handWork();
  const done = [];
  const l = latest({ work, done: (r) => done.push(r), failed: assert.fail, timer });
  l.ask(1);
  timer.fire();
  l.ask(2);
  timer.fire();
  assert.equal(calls[0].signal.aborted, true);
  calls[0].resolve("old");
  calls[1].resolve("new");
  await settle();
  assert.deepEqual(done, ["new"]);
});

test("an older answer that comes in spite of the abort is left", async () => {
  const timer = handTimer();
  const ends = [];
  const done = [];
  const l = latest({ work: () => new Promise((r) => ends.push(r)), done: (r) => done.push(r), failed: assert.fail, timer });
  l.ask(1);
  timer.fire();
  l.ask(2);
  timer.fire();
  ends[1]("new");
  await settle();
  ends[0]("old");
  await settle();
  assert.deepEqual(done, ["new"]);
});

test("no answer and no error comes through while a newer question waits for its pause", async () => {
  const timer = handTimer();
  const ends = [];
  const said = [];
  const l = latest({ work: (_, signal) => new Promise((resolve, reject) => ends.push({ signal, resolve, reject })), done: (r) => said.push(r), failed: (e) => said.push(e), timer });
  l.ask(1);
  timer.fire();
  l.ask(2); // and no pause yet
  assert.equal(ends[0].signal.aborted, true);
  ends[0].resolve("old");
  await settle();
  timer.fire();
  l.ask(3);
  ends[1].reject("older trouble");
  await settle();
  assert.deepEqual(said, []);
  timer.fire();
  ends[2].resolve("new");
  await settle();
  assert.deepEqual(said, ["new"]);
});

test("an error of the newest is told, and after stop nothing is", async () => {
  const timer = handTimer();
  const { work, calls } = handWork();
  const failed = [];
  const l = latest({ work, done: assert.fail, failed: (e) => failed.push(e), timer });
  l.ask(1);
  timer.fire();
  calls[0].reject("bad");
  await settle();
  assert.deepEqual(failed, ["bad"]);
  l.ask(2);
  timer.fire();
  l.ask(3);
  l.stop();
  timer.fire();
  await settle();
  assert.equal(calls.length, 2);
  assert.deepEqual(failed, ["bad"]);
});
