// The outbox without a page: what may go, how an entry is sent, how it is sealed, what is said of it.
import assert from "node:assert/strict";
import { test } from "node:test";
import { markOf } from "../../static/js/mark.js";
import { fits } from "../../static/js/photo_lane.js";
import { countWords, stateWords } from "../../static/js/queue_words.js";
import { canonical, canSeal, contentOf, hashOf, sealed } from "../../static/js/seal.js";
import { readFile } from "../../static/js/tablet_file.js";
import { mayWait } from "../../static/js/deliver.js";
import { lanes, wired } from "../../static/js/outbox_send.js";

const row = (/** @type {string} */ key, /** @type {string} */ job, /** @type {number} */ order, state = "waiting") => ({ key, job, order, state });
const ENTRY = { key: "k", job: "j", kind: "value", item: "a.b", qualifier: "", value: "1", person: "p", device: "d", device_seq: 3, tablet_time: "t" };

test("of each job those may go that stand before the first that was not taken", () => {
  const rows = [row("c", "one", 3), row("a", "one", 1), row("b", "one", 2, "refused"), row("d", "two", 4), row("e", "three", 5, "pin")];
  assert.deepEqual(lanes(rows).map((lane) => lane.map((each) => each.key)), [["a"], ["d"]]);
});

test("a lane keeps the order in which the entries were made", () => {
  assert.deepEqual(lanes([row("b", "one", 10), row("a", "one", 9)])[0].map((each) => each.key), ["a", "b"]);
});

test("the ticket goes along only where an entry could not be sent at once, and never past a lock", () => {
  const waiting = { ...row("k", "j", 1), entry: ENTRY, ticket: "T", seen_head: "h" };
  assert.equal(wired(waiting, true).ticket, undefined);
  assert.equal(wired({ ...waiting, tried: true }, true).ticket, "T");
  assert.equal(wired({ ...waiting, alone: true }, true).ticket, "T");
  assert.equal(wired({ ...waiting, tried: true, locked: true }, true).ticket, undefined);
  assert.equal(wired({ ...waiting, tried: true }, false).ticket, undefined);
  assert.equal(wired(waiting, true).seen_head, "h");
});

test("an entry is written in one way whatever order its names were made in", () => {
  assert.equal(canonical({ b: [1, { d: null, c: "é\n" }], a: true }), '{"a":true,"b":[1,{"c":"é\\n","d":null}]}');
  assert.equal(canonical({ a: undefined, b: 1 }), '{"b":1}');
});

test("ticket, seal, PIN and the head that was seen are no part of the content", async () => {
  const noisy = { ...ENTRY, pin: "1", ticket: "T", sealed: {}, seen_head: "h" };
  assert.deepEqual(contentOf(noisy), contentOf(ENTRY));
  assert.equal(await hashOf(noisy), await hashOf(ENTRY));
  assert.notEqual(await hashOf({ ...ENTRY, value: "2" }), await hashOf(ENTRY));
  assert.ok("paper" in contentOf({ ...ENTRY, paper: {} }) && !("paper" in contentOf({ ...ENTRY, paper: null })));
  assert.equal(contentOf({ ...ENTRY, clock_offset_s: 0 }).clock_offset_s, 0);
});

test("a sealed PIN is opened by the server's key alone and names its entry", async () => {
  const how = { name: "RSA-OAEP", hash: "SHA-256", modulusLength: 3072, publicExponent: new Uint8Array([1, 0, 1]) };
  const pair = await crypto.subtle.generateKey(how, true, ["encrypt", "decrypt"]);
  const spki = Buffer.from(await crypto.subtle.exportKey("spki", pair.publicKey)).toString("base64");
  const { key_id, box } = await sealed(ENTRY, "2580", { id: "one", spki });
  const clear = await crypto.subtle.decrypt({ name: "RSA-OAEP" }, pair.privateKey, Buffer.from(box, "base64"));
  assert.deepEqual(JSON.parse(new TextDecoder().decode(clear)), { pin: "2580", key: "k", hash: await hashOf(ENTRY) });
  assert.equal(key_id, "one");
  assert.ok(!box.includes("2580"));
});

test("what needs the server's answer never waits, a PIN only where it can be sealed", () => {
  const mark = { seal: { id: "1", spki: "x" } };
  for (const kind of ["hold", "proof", "proof_end", "reopen", "countersign", "revision", "close"]) assert.equal(mayWait([{ kind, pin: "" }], mark), false, kind);
  for (const kind of ["value", "strike", "sign"]) assert.equal(mayWait([{ kind, pin: "" }], null), true, kind);
  assert.equal(mayWait([{ kind: "sign", pin: "1" }], mark), true);
  assert.equal(mayWait([{ kind: "sign", pin: "1" }], null), false);
  assert.equal(canSeal(null), false);
});

test("the mark of a page is read, and a damaged one is none", () => {
  const page = (/** @type {string | null} */ text) => /** @type {any} */ ({ querySelector: () => text === null ? null : { getAttribute: () => text } });
  assert.deepEqual(markOf(page('{"epoch":"e"}')), { epoch: "e" });
  assert.equal(markOf(page(null)), null);
  assert.equal(markOf(page("{")), null);
});

test("pictures have a bound, and leave room for readings", () => {
  assert.equal(fits(1_000_000, 0, {}), true);
  assert.equal(fits(1_000_000, 299_500_000, {}), false);
  assert.equal(fits(1_000_000, 0, { quota: 100_000_000, usage: 80_000_000 }), false);
  assert.equal(fits(1_000_000, 0, { quota: 100_000_000, usage: 10_000_000 }), true);
});

test("the counter says what waits and apart what was not taken", () => {
  assert.equal(countWords([]).long, "0 entries wait on this tablet");
  assert.equal(countWords([row("a", "j", 1)]).long, "1 entry waits on this tablet");
  assert.equal(countWords([row("a", "j", 1), row("b", "j", 2, "refused")]).long, "1 entry waits on this tablet, 1 not taken");
  assert.match(stateWords({ state: "refused", answer: { verdict: "refused", reasons: [{ text: "Too hot." }] } }), /refused: Too hot/);
  assert.match(stateWords({ state: "pin", name: "Aster", answer: null }), /Aster.*PIN/);
});

test("an entry that the server had no room for waits and says why", () => {
  assert.equal(stateWords(row("k", "j", 1)), "waits on this tablet");
  assert.equal(stateWords({ ...row("k", "j", 1), full: true }), "waits on this tablet: the server’s disk is full");
});

test("a file of unsent entries is read only where it is one", () => {
  const key = "00000000-0000-4000-8000-000000000001";
  const sound = { format: "coldbus unsent entries", version: 1, entries: [{ key, job: key, order: 1, entry: { key, job: key } }] };
  assert.equal(readFile(JSON.stringify(sound)).entries.length, 1);
  assert.throws(() => readFile("no"), /no JSON/);
  assert.throws(() => readFile(JSON.stringify({ ...sound, format: "x" })), /not one of unsent/);
  assert.throws(() => readFile(JSON.stringify({ ...sound, entries: [{ key: "x" }] })), /damaged/);
});
