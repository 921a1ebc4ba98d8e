// @ts-check
/** What is said of an entry that waits: what it is about, its value, and what became of it. */
import { words } from "./door.js";
import { say } from "./say.js";

/** @param {Element | null | undefined} place */
const text = (place) => (place?.textContent ?? "").replace(/\s+/g, " ").trim();

/** @param {HTMLFormElement} form @param {string} what */
function labelled(form, what) {
  const field = form.querySelector(what);
  if (field instanceof HTMLSelectElement) return text(field.selectedOptions[0]);
  return field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement ? field.value.trim() : "";
}

/** The value of a form in words. @param {HTMLFormElement} form @param {HTMLElement | null} button */
export function valueWords(form, button) {
  const { entry, kind, unit } = form.dataset;
  if (kind === "sign") return say("signature of the step");
  if (kind === "strike" || kind === "strikes") return say("strike: {reason}", { reason: labelled(form, "[name=reason]") || (button instanceof HTMLButtonElement ? button.value : "") });
  if (entry === "tick") return say("done");
  if (entry === "choice") return text(button);
  if (entry === "photo") return say("picture");
  if (entry === "series") return say("{n} rows", { n: labelled(form, "textarea").split("\n").filter(Boolean).length });
  if (entry === "table") return [...form.querySelectorAll("[data-row]")].map((row) => /** @type {HTMLInputElement} */ (row).value.trim()).filter(Boolean).join(", ");
  if (entry === "signature" || entry === "drawn") return say("signature {name}", { name: labelled(form, "[name=name]") }).trim();
  const prefix = text(form.querySelector('[data-prefix][aria-pressed="true"]')).replace(/Ω$/, "");
  const shown = [`${labelled(form, "[name=comparator]")}${labelled(form, "[name=value]:not(button)")}`, unit === undefined && prefix ? `${prefix}Ω` : text(form.querySelector(".unit"))];
  return [labelled(form, "[name=bolt]"), ...shown].filter(Boolean).join(" ").slice(0, 200);
}

/** What a form is about. @param {HTMLFormElement} form */
export function whatWords(form) {
  const head = form.closest(".card, section, details")?.querySelector("h3, summary > span:first-child, h2");
  const parts = [...form.querySelectorAll("[data-part]")].map((part) => labelled(form, `[data-part="${/** @type {HTMLElement} */ (part).dataset.part}"]`));
  return [text(head), ...parts].filter(Boolean).join(", ");
}

/** @param {number} made_ms */
export function clock(made_ms) {
  return new Date(made_ms).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
}

/** What became of a row, in a sentence. @param {any} row */
export function stateWords(row) {
  if (row.state === "waiting" && row.shut_out) return say("waits on this tablet, which is not enrolled, or no longer: Today leads to the page that takes a code");
  if (row.state === "waiting" && row.full) return say("waits on this tablet: the server’s disk is full");
  if (row.state === "waiting") return row.sealed ? say("signed, waits on this tablet") : say("waits on this tablet");
  if (row.state === "refused") return say("refused: {why}", { why: words(row.answer) });
  if (row.state === "conflict") return say("this key was used for other content: export it and tell a manager");
  const locked = row.answer?.locked_until && new Date(row.answer.locked_until) > new Date() ? ` ${words(row.answer)}` : "";
  return `${row.name ? say("sign again: {name}’s PIN is needed.", { name: row.name }) : say("sign again: the PIN of whoever signed is needed.")}${locked}`;
}

/** The counter in the bar. @param {any[]} rows */
export function countWords(rows) {
  const held = rows.filter((row) => row.state !== "waiting").length, waiting = rows.length - held;
  const entries = waiting === 1 ? say("1 entry waits on this tablet") : say("{n} entries wait on this tablet", { n: waiting });
  return { waiting, held, long: held ? say("{entries}, {held} not taken", { entries, held }) : entries };
}
