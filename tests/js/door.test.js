// An entry keeps its key until it was answered, so that the server can tell a repeat.
import assert from "node:assert/strict";
import { test } from "node:test";
import { answered, newKey, stamped, token, words } from "../../static/js/door.js";

const WORK = { job: "j", head: "h" };
const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/;

test("keys are random identifiers of the usual form", () => {
  const keys = new Set(Array.from({ length: 50 }, newKey));
  assert.equal(keys.size, 50);
  for (const key of keys) assert.match(key, UUID);
});

test("the same content sent again keeps its key, whatever the PIN", () => {
  const form = {};
  const first = stamped(form, { value: "1", pin: "1111" }, WORK);
  const again = stamped(form, { value: "1", pin: "2222" }, WORK);
  assert.equal(again.key, first.key);
  assert.equal(again.pin, "2222");
});

test("other content, another form, or an answer makes a new key", () => {
  const form = {};
  const first = stamped(form, { value: "1", pin: "" }, WORK);
  assert.notEqual(stamped({}, { value: "1", pin: "" }, WORK).key, first.key);
  assert.notEqual(stamped(form, { value: "2", pin: "" }, WORK).key, first.key);
  const second = stamped(form, { value: "2", pin: "" }, WORK);
  answered(form);
  assert.notEqual(stamped(form, { value: "2", pin: "" }, WORK).key, second.key);
});

test("an entry names the job, the head that was seen and the tablet's time", () => {
  const entry = stamped({}, { value: "1", pin: "" }, WORK);
  assert.equal(entry.job, "j");
  assert.equal(entry.seen_head, "h");
  assert.ok(Math.abs(Date.parse(entry.tablet_time) - Date.now()) < 5000);
});

test("the token is read from among other cookies", () => {
  const page = (/** @type {string} */ cookie) => token(/** @type {any} */ ({ cookie }));
  assert.equal(page("a=1; coldbus_csrf=xyz; b=2"), "xyz");
  assert.equal(page("not_coldbus_csrf=xyz"), "");
});

test("answers are said in words", () => {
  assert.match(words({ verdict: "pin", tries_left: 4 }), /wrong.*Tries left: 4/);
  assert.match(words({ verdict: "pin", tries_left: null }), /Enter the PIN/);
  assert.match(words({ verdict: "pin", tries_left: 0, locked_until: "2026-03-02T09:00:00Z" }), /locked until/);
  assert.match(words({ verdict: "auth" }), /PIN/);
  assert.match(words({ verdict: "conflict" }), /Reload/);
  assert.equal(words({ verdict: "refused", reasons: [{ text: "One." }, { text: "Two." }] }), "One. Two.");
});
