// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { afterKey } from "../../static/js/pin.js";

test("a digit is added at the end", () => assert.equal(afterKey("25", "8"), "258"));
test("a step back takes the last digit, and nothing from nothing", () => {
  assert.equal(afterKey("258", "back"), "25");
  assert.equal(afterKey("", "back"), "");
});
test("a PIN ends at eight digits", () => assert.equal(afterKey("12345678", "9"), "12345678"));
