// What a form holds becomes the draft of an entry.
import assert from "node:assert/strict";
import { test } from "node:test";
import { draftOf, qualifierOf, seriesRows } from "../../static/js/draft.js";

/** @param {object} more */
function asked(more) {
  return { entry: "text", kind: "value", data: {}, fields: {}, parts: {}, rows: {}, ...more };
}

test("a tick is true", () => {
  const draft = draftOf(asked({ entry: "tick", data: { item: "intake.vin_compared", qualifier: "" } }));
  assert.equal(draft.value, true);
  assert.equal(draft.item, "intake.vin_compared");
});

test("a reading carries the bound that stands before it", () => {
  const fields = { value: " 550M ", comparator: ">" };
  assert.equal(draftOf(asked({ entry: "bounded", fields })).value, ">550M");
});

test("a plain reading is sent as it was typed, comma and all", () => {
  assert.equal(draftOf(asked({ entry: "reading", fields: { value: "-12,50" } })).value, "-12,50");
});

test("a table leaves out rows that are still empty", () => {
  const rows = { T1: "5.1", T2: "  ", T3: "5.2" };
  assert.deepEqual(draftOf(asked({ entry: "table", rows })).value, { T1: "5.1", T3: "5.2" });
});

test("a series is divided by semicolons, spaces or tabs, empty lines left out", () => {
  assert.deepEqual(seriesRows("0; 151.2\n\n1\t140.5\n 2 130 20.4 \n"), [["0", "151.2"], ["1", "140.5"], ["2", "130", "20.4"]]);
});

test("what is picked from a register is named by its identifier", () => {
  for (const entry of ["equipment", "person", "spare"]) {
    assert.deepEqual(draftOf(asked({ entry, fields: { value: "abc" } })).value, { id: "abc" });
  }
});

test("the parts of a qualifier are sorted by name and trimmed", () => {
  assert.equal(qualifierOf({ pole: "pos", module: " M9 ", open: "none" }), "module=M9;open=none;pole=pos");
});

test("a chosen qualifier wins over the one of the form", () => {
  const data = { item: "x", qualifier: "stage=1" };
  assert.equal(draftOf(asked({ data, parts: { stage: "2" }, fields: { value: "a" } })).qualifier, "stage=2");
  assert.equal(draftOf(asked({ data, fields: { value: "a" } })).qualifier, "stage=1");
});

test("a signature names who signs and carries the PIN beside the value", () => {
  const data = { step: "intake", outcome: "done" };
  const draft = draftOf(asked({ entry: "sign", kind: "sign", data, fields: { person: "p", pin: "1234" } }));
  assert.deepEqual(draft.value, { step: "intake", outcome: "done" });
  assert.equal(draft.person, "p");
  assert.equal(draft.pin, "1234");
});

test("a second person's signature is an empty value with that person's PIN", () => {
  const draft = draftOf(asked({ entry: "signature", fields: { person: "q", pin: "1" } }));
  assert.deepEqual(draft.value, {});
  assert.equal(draft.person, "q");
});

test("a strike names the entry and the reason", () => {
  const draft = draftOf(asked({ entry: "strike", kind: "strike", data: { target: "k" }, fields: { reason: "typing error" } }));
  assert.deepEqual(draft.value, { key: "k", reason: "typing error" });
});

test("acts carry only the fields that were filled in", () => {
  const empty = draftOf(asked({ entry: "revision", kind: "revision", fields: { revision: "r", reason: "" } }));
  assert.deepEqual(empty.value, { revision: "r" });
  const end = draftOf(asked({ entry: "proof_end", kind: "proof_end", fields: { cause: "keys_moved" } }));
  assert.deepEqual(end.value, { cause: "keys_moved" });
});

test("a bolt is sent by its name, with the figure shown or as a click of the tool", () => {
  const fields = { bolt: "P3", value: " 60,5 " };
  assert.deepEqual(draftOf(asked({ entry: "torque", fields })).value, { P3: "60,5" });
  const clicked = draftOf(asked({ entry: "torque", fields: { ...fields, clicked: "60" } }));
  assert.deepEqual(clicked.value, { P3: { clicked: "60" } });
});

test("a sample carries its units and how long ago the gauge was read", () => {
  const fields = { t_s: "60", gauge: " 30,5", gauge_unit: "mbar", temp_c: "20", barometer: "1013", barometer_unit: "hPa", lag_s: "4" };
  assert.deepEqual(draftOf(asked({ entry: "sample", fields })).value, { ...fields, gauge: "30,5" });
});

test("what is typed in one of several units says which", () => {
  const fields = { in: "ftlb", value: " 99,5 ", bolt: "P1" };
  assert.deepEqual(draftOf(asked({ entry: "torque", fields })).value, { in: "ftlb", rows: { P1: "99,5" } });
  assert.deepEqual(draftOf(asked({ entry: "reading", fields: { in: "mi", value: "12" } })).value, { in: "mi", typed: "12" });
  const rows = draftOf(asked({ entry: "series", fields: { in: "mbar", value: "0; 30\n60; 29" } })).value;
  assert.deepEqual(rows, { in: "mbar", rows: [["0", "30"], ["60", "29"]] });
  assert.deepEqual(draftOf(asked({ entry: "table", fields: { in: "ftlb" }, rows: { A: "5", B: "" } })).value, { in: "ftlb", rows: { A: "5" } });
});

test("a click stands for the definition's figure, whatever unit the form has", () => {
  const fields = { in: "ftlb", value: "", bolt: "P1", clicked: "60" };
  assert.deepEqual(draftOf(asked({ entry: "torque", fields })).value, { P1: { clicked: "60" } });
});
