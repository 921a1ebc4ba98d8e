// @ts-check
/** The outbox: entries are written on the tablet first, then sent; nothing goes without the door's word. */
import { isConnected } from "./connection.js";
import { newKey } from "./door.js";
import { markOf } from "./mark.js";
import { begin, drain, goOn, hello } from "./outbox_send.js";
import { all, done, dropIn, within, write } from "./outbox_store.js";
import { canSeal, sealed } from "./seal.js";

const FIRST_MS = 4000, LONGEST_MS = 60_000;
/** Other tabs hear of a change. @type {BroadcastChannel | null} */
let others = null;

/** Says that the queue changed, here and in other tabs. @param {boolean} [mine] */
export function changed(mine = true) {
  document.dispatchEvent(new CustomEvent("coldbus:queue"));
  if (mine) others?.postMessage("changed");
}

/** Everything that waits on this tablet, of all jobs, in order. */
export async function queuedOf() {
  return (await all("queue")).sort((one, other) => one.order - other.order);
}

/**
 * Writes drafts into the queue; it is on the disk when this ends. A PIN is kept only sealed.
 * @param {any[]} drafts @param {{job?: string, head?: string}} work @param {object} about what is said of them on screen
 * @param {{photo?: string, drop?: string, order?: number}} [instead]
 */
export async function enqueue(drafts, work, about, instead = {}) {
  const mark = markOf(document);
  const rows = drafts.map(({ pin, ...draft }, index) => {
    const key = newKey(), person = draft.person || mark?.person || "";
    const entry = { key, job: work.job ?? "", tablet_time: new Date().toISOString(), ...draft, person };
    const alone = !isConnected(document);
    const row = { key, job: entry.job, kind: entry.kind, item: entry.item, entry, seen_head: work.head ?? "", ticket: mark?.ticket ?? "", state: pin ? "pin" : "waiting", answer: null, alone, tried: false };
    return { ...row, name: mark?.name ?? "", made: Date.now(), ...about, ...(instead.order === undefined ? {} : { order: instead.order + index / 100 }) };
  });
  await write(rows, instead);
  const pinned = drafts.map((draft, index) => ({ row: rows[index], pin: draft.pin })).filter(({ pin }) => pin);
  for (const { row, pin } of pinned) await signRow(row, pin);
  changed();
  return rows;
}

/** @param {any} row @param {string} pin */
async function signRow(row, pin) {
  const mark = markOf(document);
  const box = canSeal(mark) && mark?.seal ? await sealed(row.entry, pin, mark.seal) : null;
  Object.assign(row, { state: "waiting", answer: null, sealed: box, pinned: box === null });
  await within(["queue"], (tx) => done(tx.objectStore("queue").put(row)));
}

/** One PIN for everything that waits for this person to sign again; the keys stay. @param {string} person @param {string} pin */
export async function signAgain(person, pin) {
  for (const row of await queuedOf()) if (row.state === "pin" && row.entry.person === person) await signRow(row, pin);
  changed();
  return sendAll(new Map([[person, pin]]));
}

/** What became of rows: the door's answer, or null while it waits. @param {string[]} keys @returns {Promise<any[]>} */
export function outcomes(keys) {
  return within(["queue", "receipts"], (tx) => Promise.all(keys.map(async (key) => {
    const row = (await done(tx.objectStore("queue").get(key))) ?? (await done(tx.objectStore("receipts").get(key)));
    return row ? row.answer ?? (row.locked ? { key, verdict: "auth", shut_out: row.shut_out, reasons: [] } : null) : { key, verdict: "gone", reasons: [] };
  })), "readonly");
}

/** Takes rows out of the queue for good; the server is told. @param {string[]} keys */
export async function drop(keys) {
  await within(["queue", "meta"], (tx) => dropIn(tx, keys));
  changed();
}

/** Records a row again in place of what another tablet recorded: that is struck with a reason. @param {any} row @param {string} reason */
export async function recordInstead(row, reason) {
  const { kind, item, qualifier, value, person, paper } = row.entry, struck = row.answer.reasons[0].params.key;
  const strike = { kind: "strike", item: "", qualifier: "", value: { key: struck, reason }, person };
  const work = { job: row.job, head: row.answer.head || row.seen_head };
  const about = { label: row.label, what: row.what, page: row.page, fields: row.fields, name: row.name, ticket: row.ticket };
  await enqueue([strike, { kind, item, qualifier, value, person, ...(paper ? { paper } : {}) }], work, about, { drop: row.key, order: row.order });
  return sendAll();
}

/** Sends everything now, whatever paused it. @param {Map<string, string>} [pins] */
export async function sendAll(pins) {
  goOn();
  await drain(pins);
  changed();
}

/** Sends by itself: when the network or the page comes back, and now and then while something waits. @param {Document} page @param {Window} view */
export function watchOutbox(page, view) {
  let wait_ms = FIRST_MS, timer = 0, connected = isConnected(page);
  const look = async () => {
    view.clearTimeout(timer);
    const before = (await queuedOf()).filter((row) => row.state === "waiting").length;
    if (before) await drain();
    await hello();
    const left = (await queuedOf()).filter((row) => row.state === "waiting").length;
    wait_ms = left && left === before ? Math.min(LONGEST_MS, wait_ms * 2) : FIRST_MS;
    if (before !== left) changed();
    again();
  };
  const again = () => {
    view.clearTimeout(timer);
    timer = view.setTimeout(start, wait_ms * (0.75 + Math.random() / 2));
  };
  const start = () => { look().catch(again); };
  const now = () => { wait_ms = FIRST_MS; start(); };
  for (const name of ["online", "pageshow"]) view.addEventListener(name, now);
  page.addEventListener("visibilitychange", () => { if (!page.hidden) now(); });
  page.addEventListener("coldbus:connection", () => {
    const back = isConnected(page) && !connected;
    connected = isConnected(page);
    if (back) now();
  });
  if ("BroadcastChannel" in view) others = new BroadcastChannel("coldbus-queue");
  others?.addEventListener("message", () => changed(false));
  const epoch = page.documentElement.dataset.keptAt ? "" : markOf(page)?.epoch;
  if (epoch) within(["queue", "receipts", "meta"], (tx) => begin(tx, epoch)).then(now).catch(() => undefined);
}
