// @ts-check
/** Seals a PIN for one entry, so that it may wait on the tablet: only the server can open it. */

/** The one way of writing JSON (RFC 8785): names in order, nothing between. @param {any} value @returns {string} */
export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (value === null || typeof value !== "object") return JSON.stringify(value);
  const names = Object.keys(value).filter((name) => value[name] !== undefined).sort();
  return `{${names.map((name) => `${JSON.stringify(name)}:${canonical(value[name])}`).join(",")}}`;
}

/** What makes an entry what it is; the PIN, the ticket and the head that was seen are no part of it. @param {any} entry */
export function contentOf({ job, kind, item, qualifier, value, person, device, device_seq, tablet_time, paper, clock_offset_s }) {
  const content = { job, kind, item, qualifier, value, person, device, device_seq, tablet_time };
  return { ...content, ...(paper == null ? {} : { paper }), ...(clock_offset_s == null ? {} : { clock_offset_s }) };
}

/** Whether this page can seal: only where the browser trusts the connection. @param {Partial<import("./mark.js").Mark> | null} mark */
export function canSeal(mark) {
  return Boolean(globalThis.crypto?.subtle && mark?.seal?.spki);
}

/** @param {ArrayBuffer} bytes */
const hex = (bytes) => [...new Uint8Array(bytes)].map((byte) => byte.toString(16).padStart(2, "0")).join("");

/** @param {string} text */
const utf8 = (text) => new TextEncoder().encode(text);

/** Hex SHA-256 of an entry's content. @param {any} entry */
export async function hashOf(entry) {
  return hex(await crypto.subtle.digest("SHA-256", utf8(canonical(contentOf(entry)))));
}

/** @param {any} entry @param {string} pin @param {{id: string, spki: string}} seal */
export async function sealed(entry, pin, seal) {
  const how = { name: "RSA-OAEP", hash: "SHA-256" };
  const raw = Uint8Array.from(atob(seal.spki), (letter) => letter.charCodeAt(0));
  const key = await crypto.subtle.importKey("spki", raw, how, false, ["encrypt"]);
  const words = JSON.stringify({ pin, key: entry.key, hash: await hashOf(entry) });
  const box = await crypto.subtle.encrypt(how, key, utf8(words));
  return { key_id: seal.id, box: btoa(String.fromCharCode(...new Uint8Array(box))) };
}
