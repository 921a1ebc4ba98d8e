// @ts-check
/** The one door for entries: keys, the entry as sent, and the words for what was answered. */
import { say } from "./say.js";

/** What was sent from a form and not yet answered: its content and the entry. */
const waiting = new WeakMap();

/** @param {Document} page */
export function token(page) {
  // Over https the cookie is bound to the host by its name; one of plain http may lie beside it.
  const found = page.cookie.match(/(?:^|; )__Host-coldbus_csrf=([^;]+)/) ?? page.cookie.match(/(?:^|; )coldbus_csrf=([^;]+)/);
  return found?.[1] ?? "";
}

export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/**
 * Makes the entry of a draft; the same content from the same form keeps its key until it is answered.
 * @param {object} form @param {any} draft @param {{job?: string, head?: string}} work
 */
export function stamped(form, draft, work) {
  const content = JSON.stringify({ ...draft, pin: "" });
  const before = waiting.get(form);
  if (before?.content === content) return { ...before.entry, pin: draft.pin };
  const entry = { key: newKey(), job: work.job, seen_head: work.head, tablet_time: new Date().toISOString(), ...draft };
  waiting.set(form, { content, entry: { ...entry, pin: "" } });
  return entry;
}

/** Forgets what a form had sent, because it was answered for good. @param {object} form */
export function answered(form) {
  waiting.delete(form);
}

/** @param {any} answer */
export function words(answer) {
  if (answer.verdict === "pin") {
    if (answer.locked_until) {
      const until = new Date(answer.locked_until).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
      return say("Too many wrong PINs: locked until {until}. A manager can unlock it.", { until });
    }
    return answer.tries_left === null ? say("Enter the PIN.") : say("That PIN is wrong. Tries left: {n}.", { n: answer.tries_left });
  }
  if (answer.shut_out) return say("This device is not enrolled, or no longer. Today leads to the page that takes a code.");
  if (answer.verdict === "auth") return say("Type your PIN below; what was typed stays here.");
  if (answer.verdict === "conflict") return say("This was sent before with other content. Reload the page.");
  return answer.reasons.map((/** @type {{text: string}} */ reason) => reason.text).join(" ");
}

/** @param {string} address @param {object[]} entries */
export async function sendEntries(address, entries) {
  const response = await fetch(address, {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-CSRFToken": token(document) },
    body: JSON.stringify({ entries }),
  });
  const { answers } = await response.json();
  return answers;
}

/** @param {string} address @param {object} entry */
export async function sendEntry(address, entry) {
  return (await sendEntries(address, [entry]))[0];
}
