import assert from "node:assert/strict";
import test from "node:test";

import { behind } from "../../static/js/behind.js";

const quiet = { busy: false, hidden: false };

test("a page is behind when the record ends elsewhere than it shows", () => {
  assert.equal(behind(quiet, "a1", "b2"), true);
  assert.equal(behind(quiet, "a1", "a1"), false);
});

test("a page that got no answer is not behind", () => {
  assert.equal(behind(quiet, "a1", ""), false);
});

test("nothing is loaded anew while something is being sent, or nobody looks", () => {
  assert.equal(behind({ ...quiet, busy: true }, "a1", "b2"), false);
  assert.equal(behind({ ...quiet, hidden: true }, "a1", "b2"), false);
});
