// Rows and times of a series.
import assert from "node:assert/strict";
import { test } from "node:test";
import { secondsSince, withRow, withoutLast } from "../../static/js/series.js";

test("seconds count from the first sample by the server's clock, and go on with the tablet's", () => {
  assert.equal(secondsSince("2026-03-02T08:00:00+00:00", "2026-03-02T08:01:00+00:00", 4400), 64);
  assert.equal(secondsSince("2026-03-02T09:00:00+01:00", "2026-03-02T08:00:00+00:00", 0), 0);
  assert.equal(secondsSince("", "2026-03-02T08:01:00+00:00", 4000), 0);
});

test("a row is added below what is there", () => {
  assert.equal(withRow("", "0", " 151.2"), "0; 151.2\n");
  assert.equal(withRow("0; 151.2\n\n", "30 ", "140"), "0; 151.2\n30; 140\n");
});

test("the last row is taken off, down to none", () => {
  assert.equal(withoutLast("0; 151.2\n30; 140\n"), "0; 151.2\n");
  assert.equal(withoutLast("0; 151.2\n"), "");
  assert.equal(withoutLast(""), "");
});
