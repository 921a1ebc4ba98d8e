// What scripts say comes from the catalogue of the page.
import assert from "node:assert/strict";
import { test } from "node:test";

/** @param {Record<string, string> | null} words */
async function sayIn(words) {
  const place = words === null ? null : { textContent: JSON.stringify(words) };
  // @ts-ignore
  globalThis.document = { getElementById: (/** @type {string} */ id) => (id === "words" ? place : null), documentElement: { lang: "de" } };
  return import(`../../static/js/say.js?${Math.random()}`);
}

test("without a catalogue the English sentence is said", async () => {
  const { say } = await sayIn(null);
  assert.equal(say("Drop it for good"), "Drop it for good");
});

test("a catalogue's sentence takes its place, fields put in by name", async () => {
  const { say } = await sayIn({ "{n} of {all}": "von {all} sind {n} da" });
  assert.equal(say("{n} of {all}", { n: 2, all: 5 }), "von 5 sind 2 da");
  assert.equal(say("{n} left", { n: 2 }), "2 left");
});

test("a field without a value stays readable, and what is put in is put in once", async () => {
  const { say } = await sayIn({});
  assert.equal(say("{a} and {b}", { a: "{b}" }), "{b} and {b}");
});

test("days and times are written in the page's language", async () => {
  const { language } = await sayIn({});
  assert.equal(language(), "de");
});
