// The strict reading of a number, by the same table of cases that the server's is held to.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { afterKey, prefixTyped, readNumber, withPrefix } from "../../static/js/number.js";

const table = JSON.parse(readFileSync(new URL("../data/typed_numbers.json", import.meta.url), "utf8"));

for (const { typed, unit, number } of table.cases) {
  test(`${JSON.stringify(typed)} in ${unit} is ${number}`, () => {
    assert.equal(readNumber(typed, unit), number);
  });
}

test("the table has numbers and refusals of both kinds", () => {
  const taken = table.cases.filter((each) => each.number !== null);
  assert.ok(taken.length >= 15 && table.cases.length - taken.length >= 25);
});

test("a prefix typed by hand goes before the button that is pressed", () => {
  assert.equal(withPrefix("2.2M", "ohm", "k"), "2.2M");
  assert.equal(withPrefix(" 450 ", "ohm", "k"), "450k");
  assert.equal(withPrefix("450 kΩ", "ohm", "M"), "450 kΩ");
  assert.equal(withPrefix("3,5", "V", ""), "3,5");
  assert.equal(prefixTyped("2.2 M", "ohm"), "M");
  assert.equal(prefixTyped("2.2 M", "V"), "");
});

test("what is no number is sent as it was typed, so that the server refuses exactly that", () => {
  assert.equal(withPrefix("1.000,5x", "ohm", "k"), "1.000,5x");
  assert.equal(withPrefix("", "ohm", "k"), "");
});

test("keys build one number with one separator, comma or point as it was pressed", () => {
  const typed = (...keys) => keys.reduce(afterKey, "");
  assert.equal(typed("1", ",", "5"), "1,5");
  assert.equal(typed("1", ".", "5", ",", "2"), "1.52");
  assert.equal(typed(",", "5"), "0,5");
  assert.equal(typed("sign", ".", "5"), "-0.5");
  assert.equal(typed("4", "sign", "2"), "-42");
  assert.equal(typed("4", "sign", "sign"), "4");
  assert.equal(typed("4", "2", "back"), "4");
  assert.equal(typed("4", "2", "clear"), "");
});
