// The page's files: small, self-contained, fetched in one round.

import test from "node:test";
import assert from "node:assert/strict";
import { readdirSync, readFileSync, statSync } from "node:fs";

const folder = new URL("../page/", import.meta.url);
const names = readdirSync(folder);
const text = (name) => readFileSync(new URL(name, folder), "utf8");
const html = text("index.html");

test("all files together are under 300 kB", () => {
  const bytes = names.reduce((sum, n) => sum + statSync(new URL(n, folder)).size, 0);
  assert.ok(bytes < 300000, `${bytes} bytes`);
});

test("every module is fetched at once, not import after import", () => {
  for (const n of names.filter((n) => n.endsWith(".js") && n !== "app.js")) {
    assert.ok(html.includes(`<link rel="modulepreload" href="${n}">`), n);
  }
});

test("every import is a file of the page, and every module is imported", () => {
  const imported = new Set(["app.js"]);
  for (const n of names.filter((n) => n.endsWith(".js"))) {
    for (const [, from] of text(n).matchAll(/^(?:import|export)[^"]*from "\.\/([^"]+)";/gm)) {
      assert.ok(names.includes(from), `${n} imports ${from}`);
      imported.add(from);
    }
  }
  assert.deepEqual(names.filter((n) => n.endsWith(".js") && !imported.has(n)), []);
});

test("nothing that a strict content security policy would refuse, no other host", () => {
  assert.doesNotMatch(html, /<style|\sstyle=|\son[a-z]+=|<script(?![^>]*\ssrc=)/);
  for (const n of names) {
    const hosts = [...text(n).matchAll(/https?:\/\/[^\s"')]+/g)].map((m) => m[0]).filter((u) => !u.startsWith("http://www.w3.org/"));
    assert.deepEqual(hosts, [], n);
    assert.doesNotMatch(text(n), /\beval\(|new Function\(|innerHTML|document\.write/, n);
  }
});

test("every file opens with what it is about", () => {
  for (const n of names.filter((n) => n.endsWith(".js"))) assert.match(text(n), /^\/\/ [A-Z]/, n);
});

test("every element that a module asks for is in the page", () => {
  for (const n of names.filter((n) => n.endsWith(".js"))) {
    for (const [, id] of text(n).matchAll(/byId\("([^"$]+)"\)/g)) assert.ok(html.includes(`id="${id}"`), `${n}: ${id}`);
  }
});
