// What was typed and not sent is known again after the page was refreshed.
import assert from "node:assert/strict";
import { test } from "node:test";
import { fieldName, formName, isTyped } from "../../static/js/keep.js";

test("forms of different items, qualifiers or entries have different names", () => {
  const names = [
    { kind: "value", item: "a.b", qualifier: "" },
    { kind: "value", item: "a.b", qualifier: "stage=1" },
    { kind: "strike", target: "k" },
    { kind: "hold", step: "a", hold: "h" },
  ].map(formName);
  assert.equal(new Set(names).size, names.length);
});

test("a form keeps its name while what else stands in it changes", () => {
  const data = { kind: "value", item: "a.b", qualifier: "", entry: "reading" };
  assert.equal(formName(data), formName({ ...data, busy: "1" }));
});

test("parts and rows are told apart from plain fields", () => {
  assert.equal(fieldName({ name: "", dataset: { part: "pole" } }), "part pole");
  assert.equal(fieldName({ name: "", dataset: { row: "T1" } }), "row T1");
  assert.equal(fieldName({ name: "value", dataset: {} }), "value");
});

test("cells of a table of lines are told apart by their line", () => {
  assert.equal(fieldName({ name: "", dataset: { cell: "text", place: "2" } }), "cell 2 text");
  assert.equal(fieldName({ name: "", dataset: { field: "notes" } }), "field notes");
});

test("a hidden field counts where it says what the page put there", () => {
  assert.equal(isTyped({ type: "hidden", value: "[[1]]", dataset: { kept: "" } }), true);
  assert.equal(isTyped({ type: "hidden", value: "T1", dataset: { kept: "T1" } }), false);
  assert.equal(isTyped({ type: "hidden", value: "round", dataset: {} }), false);
});

test("a field counts as typed once it holds something else than the page put there", () => {
  assert.equal(isTyped({ type: "text", value: "", defaultValue: "" }), false);
  assert.equal(isTyped({ type: "text", value: "12", defaultValue: "" }), true);
});

test("a choice counts once it is not the first or the chosen one", () => {
  const options = [{ value: "", defaultSelected: false }, { value: "p", defaultSelected: true }];
  assert.equal(isTyped({ type: "select-one", value: "p", options }), false);
  assert.equal(isTyped({ type: "select-one", value: "", options }), true);
  assert.equal(isTyped({ type: "select-one", value: "", options: [{ value: "", defaultSelected: false }] }), false);
});

test("a PIN is never kept, and a file cannot be", () => {
  assert.equal(isTyped({ type: "password", value: "1234", defaultValue: "" }), false);
  assert.equal(isTyped({ type: "file", value: "C:\\fakepath\\x.jpg", defaultValue: "" }), false);
});
