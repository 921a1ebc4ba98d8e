import assert from "node:assert/strict";
import test from "node:test";

import { sheetOf } from "../../static/js/paper.js";

test("a page that is not typed in from paper says nothing of a sheet", () => {
  assert.equal(sheetOf(null), null);
});

test("the time written by hand is a time of the workshop", () => {
  const given = { sheet: " Q000004-4-126 ", written: "2026-03-02T09:15", by: "who", offset: "+01:00" };
  assert.deepEqual(sheetOf(given), { sheet: "Q000004-4-126", written_at: "2026-03-02T09:15:00+01:00", by: "who" });
});

test("a time that was not typed stays empty, so that it is asked for", () => {
  const given = { sheet: "Q000004-4-126", written: "", by: "who", offset: "+01:00" };
  assert.equal(sheetOf(given)?.written_at, "");
});
