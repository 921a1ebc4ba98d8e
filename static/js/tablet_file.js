// @ts-check
/** Unsent entries as a file, so that they reach the server even when this tablet no longer does. */
import { newKey } from "./door.js";
import { changed, queuedOf } from "./outbox.js";
import { all, done, tabletOf, within } from "./outbox_store.js";
import { say } from "./say.js";

const FORMAT = "coldbus unsent entries", VERSION = 1;
const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;

/** @param {ArrayBuffer} bytes */
function base64(bytes) {
  let text = "";
  for (const byte of new Uint8Array(bytes)) text += String.fromCharCode(byte);
  return btoa(text);
}

/** Everything that was not taken yet; a PIN is in it only sealed. */
export async function exported() {
  const { device } = await within(["meta"], tabletOf);
  const pictures = (await all("photos")).map((photo) => ({ ...photo, bytes: base64(photo.bytes) }));
  return { format: FORMAT, version: VERSION, device, written: new Date().toISOString(), entries: await queuedOf(), pictures };
}

/** The rows of such a file; throws words where it is none. @param {string} text */
export function readFile(text) {
  /** @type {any} */
  let file;
  try { file = JSON.parse(text); } catch { throw new Error(say("This file is not one of unsent entries: it is no JSON. Choose a file that was saved on this page.")); }
  if (file?.format !== FORMAT || file.version !== VERSION || !Array.isArray(file.entries)) throw new Error(say("This file is not one of unsent entries. Choose a file that was saved on this page."));
  for (const row of file.entries) {
    const sound = UUID.test(row?.key) && UUID.test(row?.job) && row.entry?.key === row.key && row.entry.job === row.job && Number.isFinite(row.order);
    if (!sound) throw new Error(say("This file was changed or is damaged: an entry in it has no key. Save it again on the tablet it comes from."));
  }
  return { entries: file.entries, pictures: Array.isArray(file.pictures) ? file.pictures : [] };
}

/** Takes a file in; what waits here or was taken already stays as it is. @param {string} text */
export async function imported(text) {
  const { entries, pictures } = readFile(text);
  const taken = await within(["queue", "receipts", "photos"], async (tx) => {
    const queue = tx.objectStore("queue"), photos = tx.objectStore("photos");
    let count = 0;
    for (const row of entries) {
      if (await done(queue.getKey(row.key)) || await done(tx.objectStore("receipts").getKey(row.key))) continue;
      queue.put({ ...row, pinned: false, tried: true, state: row.state === "refused" ? "waiting" : row.state, answer: null });
      count += 1;
    }
    for (const photo of pictures) {
      const bytes = Uint8Array.from(atob(photo.bytes), (letter) => letter.charCodeAt(0)).buffer;
      photos.put({ ...photo, bytes, key: photo.key ?? newKey() });
      count += 1;
    }
    return count;
  });
  changed();
  return taken;
}
