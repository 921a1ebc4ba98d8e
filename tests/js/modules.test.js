// Every script can be read at all: one that cannot takes all others of its page with it.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { readdirSync, readFileSync } from "node:fs";
import { test } from "node:test";

const FOLDER = new URL("../../static/js/", import.meta.url);

test("every script is read without a fault of syntax", () => {
  for (const name of readdirSync(FOLDER).filter((each) => each.endsWith(".js"))) {
    const input = readFileSync(new URL(name, FOLDER));
    const { status, stderr } = spawnSync(process.execPath, ["--check", "--input-type=module"], { input });
    assert.equal(status, 0, `${name}: ${stderr}`);
  }
});
