// @ts-check
/** Pictures wait on the tablet in a lane of their own; a picture's entry joins the queue once it is uploaded. */
import { isConnected, showConnection } from "./connection.js";
import { newKey, token } from "./door.js";
import { markOf } from "./mark.js";
import { changed, enqueue, sendAll } from "./outbox.js";
import { all, done, one, within } from "./outbox_store.js";
import { shrunk } from "./photo.js";
import { say } from "./say.js";

const MOST_BYTES = 300_000_000, LEFT_BYTES = 20_000_000, PATIENCE_MS = 60_000, EVERY_MS = 30_000;
const full = () => new Error(say("This tablet has no room for another picture. Connect it, so that the pictures that wait are sent, then take it again. Readings are still kept."));
/** @type {Promise<void> | null} */
let running = null;

/** Whether a picture fits beside what waits. @param {number} bytes @param {number} waiting @param {{quota?: number, usage?: number}} room */
export function fits(bytes, waiting, { quota, usage }) {
  if (waiting + bytes > MOST_BYTES) return false;
  return quota === undefined || usage === undefined || quota - usage > bytes + LEFT_BYTES;
}

/**
 * Keeps a picture on the tablet until it is uploaded.
 * @param {File} file @param {any} draft @param {DOMStringMap} work @param {any} about
 */
export async function keepPhoto(file, draft, work, about) {
  const bytes = await (await shrunk(file)).arrayBuffer(), mark = markOf(document);
  const waiting = (await all("photos")).reduce((sum, each) => sum + each.bytes.byteLength, 0);
  if (!fits(bytes.byteLength, waiting, (await navigator.storage?.estimate?.()) ?? {})) throw full();
  const photo = {
    key: newKey(), job: work.job ?? "", head: work.head ?? "", address: work.photo ?? "", bytes, state: "waiting", answer: null, made: Date.now(), item: draft.item,
    draft: { ...draft, person: draft.person || mark?.person || "" }, about: { ...about, name: mark?.name ?? "", ticket: mark?.ticket ?? "" },
  };
  try {
    await within(["photos"], (tx) => done(tx.objectStore("photos").put(photo)));
  } catch (fault) {
    throw fault instanceof DOMException && fault.name === "QuotaExceededError" ? full() : fault;
  }
  changed();
  return photo;
}

/** @param {any} photo @returns {Promise<any>} */
async function upload(photo) {
  const stop = new AbortController(), timer = setTimeout(() => stop.abort(), PATIENCE_MS), body = new FormData();
  body.append("photo", new Blob([photo.bytes]), "picture.jpg");
  try {
    const response = await fetch(photo.address, { method: "POST", body, headers: { "X-CSRFToken": token(document) }, signal: stop.signal });
    const ours = response.headers.get("X-Coldbus") && response.headers.get("Content-Type")?.includes("json");
    return ours ? await response.json() : null;
  } finally {
    clearTimeout(timer);
  }
}

async function pass() {
  for (const { key } of await all("photos")) {
    const photo = await one("photos", key);
    if (!photo || photo.state !== "waiting") continue;
    const answer = await upload(photo);
    if (answer === null) break;
    if (answer.verdict === "auth") break;
    if (answer.verdict === "applied") {
      const value = { sha256: answer.sha256, media_type: answer.media_type };
      const rows = await enqueue([{ ...photo.draft, value }], { job: photo.job, head: photo.head }, photo.about, { photo: key });
      became.set(key, rows[0].key);
    } else {
      const said = { verdict: "refused", reasons: [{ code: answer.code ?? "", text: answer.text ?? say("The picture was not taken.") }] };
      await within(["photos"], (tx) => done(tx.objectStore("photos").put({ ...photo, state: "refused", answer: said })));
      changed();
    }
  }
}

/** Which entry a picture became. @type {Map<string, string>} */
export const became = new Map();

/** Uploads what waits; readings never wait for it. */
export function uploadPhotos() {
  const work = () => pass().catch(() => showConnection(document, false));
  running ??= Promise.resolve(navigator.locks ? navigator.locks.request("coldbus-photos", work) : work()).finally(() => { running = null; });
  return running;
}

/** Drops a picture that was not uploaded. @param {string} key */
export async function dropPhoto(key) {
  await within(["photos"], (tx) => done(tx.objectStore("photos").delete(key)));
  changed();
}

/** Uploads by itself: when the network comes back, and now and then while a picture waits. @param {Document} page @param {Window} view */
export function watchPhotoLane(page, view) {
  const look = async () => {
    if (page.hidden || !(await all("photos")).some((photo) => photo.state === "waiting")) return;
    await uploadPhotos();
    await sendAll();
  };
  const start = () => { look().catch(() => undefined); };
  for (const name of ["online", "pageshow"]) view.addEventListener(name, start);
  page.addEventListener("coldbus:connection", () => { if (isConnected(page)) start(); });
  view.setInterval(start, EVERY_MS);
}
