// @ts-check
/** Sends what waits, job by job in order, one sender at a time; a row goes only when the door named it. */
import { isConnected, showConnection } from "./connection.js";
import { newKey, token } from "./door.js";
import { markOf } from "./mark.js";
import { all, done, lease, tabletOf, within } from "./outbox_store.js";

export const DOOR = "/entries/";
const PATIENCE_MS = 10_000, AT_ONCE = 50, RECEIPT_MS = 7 * 24 * 3_600_000, LEASE_MS = 12_000, LOOKS = 60;
const OWNER = newKey();
/** PINs typed where nothing can be sealed: for the next sending only. @type {Map<string, string>} */
const spoken = new Map();
/** @type {Promise<void>} */
let tail = Promise.resolve();
let paused = false;

/** After somebody signed on again, or asked for it, the queue goes on. */
export function goOn() {
  paused = false;
}

/** The rows that may go: of each job those before the first that was not taken. @param {any[]} rows @returns {any[][]} */
export function lanes(rows) {
  /** @type {Map<string, {rows: any[], open: boolean}>} */
  const jobs = new Map();
  for (const row of [...rows].sort((one, other) => one.order - other.order)) {
    const lane = jobs.get(row.job) ?? { rows: [], open: true };
    jobs.set(row.job, lane);
    if (row.state !== "waiting") lane.open = false;
    if (lane.open) lane.rows.push(row);
  }
  return [...jobs.values()].map((lane) => lane.rows).filter((lane) => lane.length);
}

/** An entry as it is sent; the ticket speaks for who was signed on when it could not be sent at once. @param {any} row @param {boolean} marked */
export function wired(row, marked) {
  const entry = { ...row.entry, seen_head: row.seen_head ?? "" }, pin = spoken.get(row.entry.person);
  if (marked && row.sealed) entry.sealed = row.sealed;
  if (marked && row.ticket && (row.tried || row.alone) && !row.locked) entry.ticket = row.ticket;
  if (pin && row.pinned) entry.pin = pin;
  return entry;
}

/** Posts to the door; null where what came back is not the door's. @param {object} body */
export async function post(body) {
  const stop = new AbortController(), timer = setTimeout(() => stop.abort(), PATIENCE_MS);
  try {
    const headers = { "Content-Type": "application/json", "X-CSRFToken": token(document) };
    const response = await fetch(DOOR, { method: "POST", headers, body: JSON.stringify(body), signal: stop.signal });
    const ours = response.headers.get("X-Coldbus") && response.headers.get("Content-Type")?.includes("json");
    const read = ours ? await response.json() : null;
    return { alive: Boolean(response.headers.get("X-Coldbus")), full: response.status === 507, body: Array.isArray(read?.answers) ? read : null };
  } finally {
    clearTimeout(timer);
  }
}

/** After a restore the server may miss what it had: the receipts go again, their keys make that harmless. @param {IDBTransaction} tx @param {string} epoch */
export async function begin(tx, epoch) {
  const meta = tx.objectStore("meta"), receipts = tx.objectStore("receipts"), before = await done(meta.get("epoch"));
  if (before === epoch) return;
  meta.put(epoch, "epoch");
  if (before === undefined) return;
  for (const row of await done(receipts.getAll())) tx.objectStore("queue").put({ ...row, state: "waiting", tried: true, answer: null });
  receipts.clear();
}

/** @param {any[]} rows @param {any} body @param {any[]} dropped those that the server was told of @param {boolean} full its disk was full */
function settle(rows, body, dropped, full) {
  return within(["queue", "receipts", "meta"], async (tx) => {
    const queue = tx.objectStore("queue"), receipts = tx.objectStore("receipts"), meta = tx.objectStore("meta");
    if (body.epoch) await begin(tx, body.epoch);
    if (body.now) meta.put(Math.round((Date.parse(body.now) - Date.now()) / 1000), "offset_s");
    if (dropped.length) meta.put(((await done(meta.get("dropped"))) ?? []).filter((/** @type {any} */ each) => !dropped.some(({ key }) => key === each.key)), "dropped");
    for (const row of rows) {
      const answer = body.answers.find((/** @type {any} */ each) => each.key === row.key);
      if (answer?.verdict === "applied") {
        queue.delete(row.key);
        receipts.put({ ...row, answer, at: Date.now() });
      } else if (["refused", "pin", "conflict"].includes(answer?.verdict)) {
        queue.put({ ...row, state: answer.verdict, answer, pinned: false });
      } else {
        queue.put({ ...row, full, tried: true, shut_out: answer?.shut_out === true, locked: row.locked || (answer?.verdict === "auth" && !row.tried && !row.alone) });
      }
    }
    for (const old of await done(receipts.getAll())) if (old.at < Date.now() - RECEIPT_MS) receipts.delete(old.key);
  });
}

/** Sends rows of one job; says whether the next job may be tried. @param {any[]} rows */
async function sendRows(rows) {
  const marked = markOf(document) !== null;
  const { device, made, dropped } = await within(["meta"], async (tx) => ({
    ...(await tabletOf(tx)), dropped: (await done(tx.objectStore("meta").get("dropped"))) ?? [],
  }));
  const entries = rows.map((row) => wired(row, marked));
  const heard = await post(marked ? { format: 2, device, made, dropped, entries } : { entries }).catch(() => ({ alive: false, full: false, body: null }));
  await settle(rows, heard.body ?? { answers: [] }, marked && heard.body ? dropped : [], heard.full);
  showConnection(document, heard.alive);
  const verdicts = (heard.body?.answers ?? []).map((/** @type {any} */ answer) => answer.verdict);
  if (verdicts.includes("auth")) paused = true;
  return { next: heard.alive && !paused, more: verdicts.length > 0 && verdicts.every((/** @type {string} */ verdict) => verdict === "applied") };
}

async function pass() {
  const tried = new Set();
  for (let lane = lanes(await all("queue"))[0]; lane && !paused; lane = lanes(await all("queue")).find((each) => !tried.has(each[0].job))) {
    // A little longer than one sending may take: a tab that is gone must not hold the others up for long.
    if (!navigator.locks) await lease(OWNER, LEASE_MS);
    const { next, more } = await sendRows(lane.slice(0, AT_ONCE));
    if (!next) break;
    if (!more) tried.add(lane[0].job);
  }
  spoken.clear();
}

/** Says to the server what was dropped, where nothing else is sent. */
export async function hello() {
  const told = await within(["meta"], (tx) => done(tx.objectStore("meta").get("dropped")), "readonly");
  if (told?.length && markOf(document) && isConnected(document)) await sendRows([]);
}

/** One sender among all tabs. @param {() => Promise<void>} work */
async function alone(work) {
  if (navigator.locks) return navigator.locks.request("coldbus-outbox", work);
  for (let look = 0; look < LOOKS && !(await lease(OWNER, LEASE_MS)); look += 1) await new Promise((go) => { setTimeout(go, 250); });
  if (!(await lease(OWNER, LEASE_MS))) return undefined;
  try { return await work(); } finally { await lease(OWNER, 0); }
}

/** Sends what waits; ends when each was tried once. @param {Map<string, string>} [pins] */
export function drain(pins) {
  for (const [person, pin] of pins ?? []) spoken.set(person, pin);
  tail = tail.catch(() => undefined).then(() => alone(pass));
  return tail;
}
