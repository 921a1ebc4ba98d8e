// A quotation's preview adds up as the server does, exact to the cent.
import assert from "node:assert/strict";
import { test } from "node:test";
import { draftOf } from "../../static/js/draft.js";
import { netOf, plain, scaled, shown, sumsOf } from "../../static/js/money.js";

const row = { quantity: "1,5", unit_price: "95", tax_percent: "20" };

test("numbers are read with a comma or a point and never guessed", () => {
  assert.equal(scaled("1,5", 3), 1500n);
  assert.equal(scaled("95", 2), 9500n);
  for (const typed of ["", "-1", "1.000,5", "1e3", "0.001"]) assert.equal(scaled(typed, 2), null, typed);
});

test("half a cent goes up", () => {
  assert.equal(netOf({ ...row, quantity: "0.5", unit_price: "0.05" }), 3n);
  assert.equal(netOf({ ...row, quantity: "0.333", unit_price: "3" }), 100n);
});

test("tax is taken on the sum of a rate", () => {
  const cheap = { quantity: "1", unit_price: "0.02", tax_percent: "20" };
  assert.deepEqual(sumsOf([cheap, cheap, cheap]), { net: 6n, tax: 1n, total: 7n });
  assert.deepEqual(sumsOf([row, { ...row, tax_percent: "" }]), { net: 28500n, tax: 2850n, total: 31350n });
});

test("a discount is taken off its rate, an optional row is left out", () => {
  const off = { kind: "discount", quantity: "1", unit_price: "42,50", tax_percent: "20" };
  assert.equal(netOf({ ...off, quantity: "0.5", unit_price: "0.05" }), -3n);
  assert.deepEqual(sumsOf([row, off, { ...row, optional: "yes" }]), { net: 10000n, tax: 2000n, total: 12000n });
  assert.equal(plain(-7n), "-0.07");
});

test("nothing is shown while a row is not whole", () => {
  assert.equal(sumsOf([row, { ...row, unit_price: "" }]), null);
});

test("cents are written for the server and for people", () => {
  assert.equal(plain(7n), "0.07");
  assert.equal(shown(123456789n, "EUR"), "1\u00a0234\u00a0567.89\u00a0EUR");
});

test("what is sent is the editor's own text", () => {
  const value = { lines: [row], total: "171.00" };
  const asked = { entry: "quotation", kind: "value", data: {}, fields: { value: JSON.stringify(value) }, parts: {}, rows: {} };
  assert.deepEqual(draftOf(asked).value, value);
});
