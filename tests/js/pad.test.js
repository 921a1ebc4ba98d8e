import assert from "node:assert/strict";
import test from "node:test";

import { draftOf } from "../../static/js/draft.js";
import { pointIn, strokesOf } from "../../static/js/pad.js";

const BOX = { left: 100, top: 50, width: 500, height: 150 };

test("a place on the screen is a point of the field whatever its size", () => {
  assert.deepEqual(pointIn(BOX, 100, 50), [0, 0]);
  assert.deepEqual(pointIn(BOX, 350, 125), [500, 150]);
});

test("a pen that leaves the field stays at its border", () => {
  assert.deepEqual(pointIn(BOX, 90, 900), [0, 300]);
});

test("a hidden field that holds nothing or nonsense holds no strokes", () => {
  assert.deepEqual(strokesOf(""), []);
  assert.deepEqual(strokesOf("7"), []);
  assert.deepEqual(strokesOf("{"), []);
});

const asked = { data: {}, parts: {}, rows: {}, fields: { name: " E. Sand ", note: "", strokes: "[[[1,2],[3,4]]]", pin: "1234" } };

test("a customer's signature is sent with the name and the strokes", () => {
  const draft = draftOf({ ...asked, entry: "drawn", kind: "value" });
  assert.deepEqual(draft.value, { name: "E. Sand", note: "", strokes: [[[1, 2], [3, 4]]] });
});

test("the hand-over is closed with the signature of whoever receives the vehicle", () => {
  const draft = draftOf({ ...asked, entry: "close", kind: "close" });
  assert.deepEqual(draft.value, { received_by: { name: "E. Sand", note: "", strokes: [[[1, 2], [3, 4]]] } });
  assert.equal(draft.pin, "1234");
});
