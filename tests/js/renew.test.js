// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { isDue } from "../../static/js/renew.js";

test("a list is loaded anew after a minute", () => {
  assert.equal(isDue({ hidden: false }, 60000), true);
  assert.equal(isDue({ hidden: false }, 59999), false);
});
test("a page that nobody looks at rests", () => assert.equal(isDue({ hidden: true }, 600000), false));
