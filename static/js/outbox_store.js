// @ts-check
/** The tablet's own store (IndexedDB): what waits, receipts, pictures, and the tablet's number and count. */
import { newKey } from "./door.js";

const NAME = "coldbus-tablet", VERSION = 1;
const STORES = /** @type {Record<string, IDBObjectStoreParameters>} */ ({
  queue: { keyPath: "key" }, receipts: { keyPath: "key" }, photos: { keyPath: "key" }, meta: {},
});
/** @type {Promise<IDBDatabase> | null} */
let opened = null;

/** The result of a request. @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
export function done(request) {
  return new Promise((yes, no) => {
    request.onsuccess = () => yes(request.result);
    request.onerror = () => no(request.error);
  });
}

/** @returns {Promise<IDBDatabase>} */
function open() {
  opened ??= new Promise((yes, no) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      for (const [name, options] of Object.entries(STORES)) request.result.createObjectStore(name, options);
    };
    request.onerror = () => no(request.error);
    request.onblocked = () => no(new Error("blocked"));
    request.onsuccess = () => {
      request.result.onversionchange = () => forget(request.result);
      request.result.onclose = () => { opened = null; };
      yes(request.result);
    };
  });
  opened.catch(() => { opened = null; });
  return opened;
}

/** @param {IDBDatabase} database */
function forget(database) {
  database.close();
  opened = null;
}

/**
 * Does some work in one transaction and waits until it is on the disk.
 * @template T @param {string[]} names @param {(tx: IDBTransaction) => Promise<T>} work @param {IDBTransactionMode} mode
 */
async function once(names, work, mode) {
  const tx = (await open()).transaction(names, mode, { durability: "strict" });
  const over = new Promise((yes, no) => {
    tx.oncomplete = () => yes(undefined);
    tx.onabort = () => no(tx.error ?? new Error("aborted"));
  });
  over.catch(() => undefined);
  try {
    const result = await work(tx);
    await over;
    return result;
  } catch (fault) {
    try { tx.abort(); } catch { /* it had ended already */ }
    throw fault;
  }
}

/** A browser may close the store in the background: it is opened again once, then the fault is said. @template T @param {string[]} names @param {(tx: IDBTransaction) => Promise<T>} work @param {IDBTransactionMode} [mode] */
export async function within(names, work, mode = "readwrite") {
  try {
    return await once(names, work, mode);
  } catch (fault) {
    if (fault instanceof DOMException && ["QuotaExceededError", "ConstraintError", "DataError"].includes(fault.name)) throw fault;
    opened?.then(forget).catch(() => undefined);
    opened = null;
    return once(names, work, mode);
  }
}

/** Everything in a store. @param {string} store @returns {Promise<any[]>} */
export function all(store) {
  return within([store], (tx) => done(tx.objectStore(store).getAll()), "readonly");
}

/** One thing of a store. @param {string} store @param {string} key @returns {Promise<any>} */
export function one(store, key) {
  return within([store], (tx) => done(tx.objectStore(store).get(key)), "readonly");
}

/** @param {string} name @param {any} value */
export function setMeta(name, value) {
  return within(["meta"], (tx) => done(tx.objectStore("meta").put(value, name)));
}

/** The tablet's number and the highest count made; made at the first use. @param {IDBTransaction} tx */
export async function tabletOf(tx) {
  const meta = tx.objectStore("meta");
  let device = await done(meta.get("device"));
  if (!device) await done(meta.put(device = newKey(), "device"));
  return { device: String(device), made: Number((await done(meta.get("made"))) ?? 0) };
}

/**
 * Writes rows into the queue; the tablet's number and the count are given in the same transaction.
 * @param {any[]} rows @param {{photo?: string, drop?: string}} [instead] what these rows take the place of
 */
export function write(rows, instead = {}) {
  return within(["queue", "meta", "photos"], async (tx) => {
    const { device, made } = await tabletOf(tx), queue = tx.objectStore("queue");
    const offset_s = await done(tx.objectStore("meta").get("offset_s"));
    rows.forEach((row, index) => {
      if (offset_s !== undefined) row.entry.clock_offset_s = offset_s;
      row.entry.device = device;
      row.entry.device_seq = made + 1 + index;
      row.order ??= row.entry.device_seq;
      queue.put(row);
    });
    tx.objectStore("meta").put(made + rows.length, "made");
    if (instead.photo) tx.objectStore("photos").delete(instead.photo);
    if (instead.drop) await dropIn(tx, [instead.drop]);
    return rows;
  });
}

/** Takes rows out of the queue; the server is told that they will not come. @param {IDBTransaction} tx @param {string[]} keys */
export async function dropIn(tx, keys) {
  const queue = tx.objectStore("queue"), meta = tx.objectStore("meta");
  const dropped = (await done(meta.get("dropped"))) ?? [];
  const device = await done(meta.get("device"));
  for (const key of keys) {
    const row = await done(queue.get(key));
    if (row && row.entry.device === device) dropped.push({ seq: row.entry.device_seq, key });
    queue.delete(key);
  }
  meta.put(dropped, "dropped");
}

/** Takes the right to send for a while, where the browser has no locks. @param {string} owner @param {number} for_ms */
export function lease(owner, for_ms) {
  return within(["meta"], async (tx) => {
    const meta = tx.objectStore("meta"), held = await done(meta.get("lease")), now = Date.now();
    if (held && held.owner !== owner && held.until > now && held.until < now + 600_000) return false;
    meta.put({ owner, until: now + for_ms }, "lease");
    return true;
  });
}
