import assert from "node:assert/strict";
import test from "node:test";

import { fitted, shrunk } from "../../static/js/photo.js";

test("a large picture is drawn with its longest side at 1600 and its proportions kept", () => {
  assert.deepEqual(fitted(4000, 3000), [1600, 1200]);
  assert.deepEqual(fitted(3000, 4000), [1200, 1600]);
});

test("a small picture keeps its size, and no side vanishes", () => {
  assert.deepEqual(fitted(640, 480), [640, 480]);
  assert.deepEqual(fitted(16000, 3), [1600, 1]);
});

test("what cannot be drawn here is sent as it is, for the server to judge", async () => {
  const file = new File(["no picture"], "x.jpg");
  assert.equal(await shrunk(file), file);
});
