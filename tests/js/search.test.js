import assert from "node:assert/strict";
import test from "node:test";

import { withSearch } from "../../static/js/search.js";

test("what is typed now goes along, whatever was searched before", () => {
  assert.equal(withSearch("/jobs/book/?new=1&q=old", "E. Sand "), "/jobs/book/?new=1&q=E.+Sand");
  assert.equal(withSearch("/jobs/book/?new=1", "PF 8"), "/jobs/book/?new=1&q=PF+8");
});

test("an emptied box takes nothing along", () => {
  assert.equal(withSearch("/jobs/book/?new=1&q=old", " "), "/jobs/book/?new=1");
});
