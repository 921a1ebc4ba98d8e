// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";

// A channel to other tabs would keep this process alive.
Reflect.deleteProperty(globalThis, "BroadcastChannel");
const { signature, typedFor } = await import("../../static/js/behind_sign.js");
const { isDue, listed, opened } = await import("../../static/js/kept.js");
const { ageWords } = await import("../../static/js/kept_page.js");
const { mayUpdate } = await import("../../static/js/update.js");

const NOW_MS = 1_000_000_000, NOBODY = { person: "", jobs: {} };
const known = { head: "a", changed_ms: NOW_MS - 3_600_000, kept_ms: NOW_MS - 60_000, opened_ms: NOW_MS };

test("a job that was never kept is asked for at once", () => {
  assert.equal(isDue({ ...known, kept_ms: 0 }, NOW_MS), true);
});
test("after an entry the copies are asked anew once it has been quiet for half a minute", () => {
  assert.equal(isDue({ ...known, changed_ms: NOW_MS - 29_000 }, NOW_MS), false);
  assert.equal(isDue({ ...known, changed_ms: NOW_MS - 30_000 }, NOW_MS), true);
});
test("without an entry the copies are asked anew after ten minutes", () => {
  assert.equal(isDue({ ...known, kept_ms: NOW_MS - 599_000 }, NOW_MS), false);
  assert.equal(isDue({ ...known, kept_ms: NOW_MS - 600_000 }, NOW_MS), true);
});
test("a job's record that goes on is noticed, one that does not is not", () => {
  const first = opened(NOBODY, "j", "a", NOW_MS), same = opened(first, "j", "a", NOW_MS + 5), other = opened(first, "j", "b", NOW_MS + 5);
  assert.equal(same.jobs.j.changed_ms, NOW_MS);
  assert.equal(other.jobs.j.changed_ms, NOW_MS + 5);
});
test("only the jobs opened last are kept", () => {
  let memory = NOBODY;
  for (let each = 0; each < 10; each += 1) memory = opened(memory, `job ${each}`, "a", NOW_MS + each);
  assert.deepEqual(Object.keys(memory.jobs).sort(), [2, 3, 4, 5, 6, 7, 8, 9].map((each) => `job ${each}`));
});
test("a job that the server lists no more is forgotten", () => {
  const memory = opened(opened(NOBODY, "open", "a", NOW_MS), "closed", "a", NOW_MS);
  assert.deepEqual(Object.keys(listed(memory, { open: ["/jobs/open/intake/"] }).jobs), ["open"]);
});

test("the age of a page is said in minutes, then in hours", () => {
  assert.equal(ageWords(14 * 60_000 + 59_000), "14 min old");
  assert.equal(ageWords(125 * 60_000), "2 h 5 min old");
  assert.equal(ageWords(-5000), "0 min old");
});

test("a new version waits while something is unsent or typed", () => {
  assert.equal(mayUpdate(0, 0), true);
  assert.equal(mayUpdate(1, 0), false);
  assert.equal(mayUpdate(0, 1), false);
});

const sign = { state: "waiting", entry: { job: "j", kind: "sign", item: "", value: { step: "intake", outcome: "done" } } };
test("a signature that waits opens the next step, one that was not taken holds it", () => {
  assert.equal(signature([sign], "j", "intake"), "waits");
  assert.equal(signature([{ ...sign, state: "refused" }], "j", "intake"), "held");
  assert.equal(signature([{ ...sign, state: "pin" }], "j", "intake"), "held");
});
test("another job's signature, or another step's, opens nothing", () => {
  assert.equal(signature([sign], "other", "intake"), "none");
  assert.equal(signature([sign], "j", "de_energise"), "none");
  assert.equal(signature([], "j", "intake"), "none");
});
test("a signature made anew after a refusal waits", () => {
  assert.equal(signature([{ ...sign, state: "refused" }, sign], "j", "intake"), "waits");
});
test("what was typed for a step is found by its items", () => {
  const row = { state: "waiting", entry: { job: "j", kind: "value", item: "de_energise.lock", value: true } };
  assert.equal(typedFor([row], "j", "de_energise"), true);
  assert.equal(typedFor([row], "j", "de"), false);
  assert.equal(typedFor([row], "k", "de_energise"), false);
});
