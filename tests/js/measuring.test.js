// Scanner, times that run, stamps of the recorder, parts of a proposal.
import assert from "node:assert/strict";
import { test } from "node:test";
import { alarmDue, leftWords } from "../../static/js/alarm.js";
import { partsOf } from "../../static/js/proposals.js";
import { secondsAt } from "../../static/js/recorder.js";
import { afterScanKey } from "../../static/js/scan.js";

/** Plays keys that come one after another. @param {string[]} keys @param {number} apart_ms */
function played(keys, apart_ms) {
  const held = { text: "", first_ms: 0, last_ms: 0 };
  let now_ms = 1000, code = null;
  for (const key of keys) { now_ms += apart_ms; code = afterScanKey(held, key, now_ms); }
  return code;
}

test("fast keys that end with Enter are a code", () => {
  assert.equal(played([..."GL-0-118", "Enter"], 8), "GL-0-118");
  assert.equal(played(["Shift", ..."GL-0", "Enter"], 8), "GL-0");
});

test("a person who types is no scanner, however long the word", () => {
  assert.equal(played([..."Bay 2, indoors", "Enter"], 90), null);
});

test("few fast keys are none either: two digits and Enter are a reading", () => {
  assert.equal(played([..."19", "Enter"], 8), null);
});

test("what was typed slowly before a scan is no part of the code", () => {
  const held = { text: "", first_ms: 0, last_ms: 0 };
  afterScanKey(held, "1", 1000);
  afterScanKey(held, "9", 1300);
  [..."VM-4410"].forEach((key, turn) => afterScanKey(held, key, 2000 + 6 * turn));
  assert.equal(afterScanKey(held, "Enter", 2048), "VM-4410");
});

test("an Enter that comes late ends no code", () => {
  const held = { text: "", first_ms: 0, last_ms: 0 };
  [..."VM-4410"].forEach((key, turn) => afterScanKey(held, key, 2000 + 6 * turn));
  assert.equal(afterScanKey(held, "Enter", 2600), null);
});

test("an alarm is given once, when the time is over, and not hours later", () => {
  assert.equal(alarmDue(1, false), false);
  assert.equal(alarmDue(0, false), true);
  assert.equal(alarmDue(-5000, true), false);
  assert.equal(alarmDue(-3600000, false), false);
});

test("what is left is written in minutes and seconds, rounded up", () => {
  assert.equal(leftWords(61000), "1:01");
  assert.equal(leftWords(59001), "1:00");
  assert.equal(leftWords(7265000), "2:01:05");
  assert.equal(leftWords(-5), "0:00");
});

test("seconds of a row count from the first one, to a tenth", () => {
  assert.equal(secondsAt(10000, 10000), "0");
  assert.equal(secondsAt(10000, 14960), "5");
  assert.equal(secondsAt(10000, 15240), "5.2");
});

test("a proposal names the parts that are chosen on the card", () => {
  assert.deepEqual(partsOf("module=M9;open=M7+M9;pole=pos;shunt=none"), { module: "M9", open: "M7+M9", pole: "pos", shunt: "none" });
  assert.deepEqual(partsOf(""), {});
});
