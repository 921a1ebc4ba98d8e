// @ts-check
/** Sends what a card's form holds to the one door and shows the answer beside the item. */
import { draftOf } from "./draft.js";
import { showConnection } from "./connection.js";

/** What was sent from a form and not yet answered: its key and its content. */
const waiting = new WeakMap();

/** @param {Document} page */
function token(page) {
  return page.cookie.match(/(?:^|; )coldbus_csrf=([^;]+)/)?.[1] ?? "";
}

function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/** @param {HTMLFormElement} form @param {HTMLElement | null} button */
function asked(form, button) {
  /** @type {Record<string, string>} */
  const fields = {}, parts = {}, rows = {};
  for (const field of form.querySelectorAll("input, select, textarea")) {
    const { dataset, name, value } = /** @type {HTMLInputElement} */ (field);
    if (dataset.part) parts[dataset.part] = value;
    else if (dataset.row) rows[dataset.row] = value;
    else if (name) fields[name] = value;
  }
  if (button instanceof HTMLButtonElement && button.name) fields[button.name] = button.value;
  const pressed = form.querySelector('[data-prefix][aria-pressed="true"]');
  const prefix = pressed instanceof HTMLElement ? (pressed.dataset.prefix ?? "") : "";
  const data = /** @type {Record<string, string>} */ ({ ...form.dataset });
  return { entry: data.entry, kind: data.kind, data, fields, parts, rows, prefix };
}

/** @param {HTMLFormElement} form @param {string} text */
function say(form, text) {
  const answer = form.querySelector(".answer");
  if (answer) answer.textContent = text;
}

/** @param {HTMLFormElement} form @param {HTMLElement} work */
async function photoValue(form, work) {
  const input = form.querySelector('input[type="file"]');
  const file = input instanceof HTMLInputElement ? input.files?.[0] : undefined;
  if (!file) throw new Error("Choose a picture first.");
  const body = new FormData();
  body.append("photo", file);
  const response = await fetch(work.dataset.photo ?? "", { method: "POST", body, headers: { "X-CSRFToken": token(document) } });
  const answer = await response.json();
  if (answer.verdict !== "applied") throw new Error(answer.text ?? "The picture was not taken.");
  return { sha256: answer.sha256, media_type: answer.media_type };
}

/** @param {HTMLElement} work @param {HTMLFormElement} form @param {any} draft */
function stamped(work, form, draft) {
  const content = JSON.stringify({ ...draft, pin: "" });
  const before = waiting.get(form);
  if (before?.content === content) return { ...before.entry, pin: draft.pin };
  const entry = { key: newKey(), job: work.dataset.job, seen_head: work.dataset.head, tablet_time: new Date().toISOString(), ...draft };
  waiting.set(form, { content, entry: { ...entry, pin: "" } });
  return entry;
}

/** @param {any} answer */
function words(answer) {
  if (answer.verdict === "pin") {
    if (answer.locked_until) return `Locked until ${new Date(answer.locked_until).toLocaleTimeString()}.`;
    return answer.tries_left === null ? "Enter the PIN." : `Wrong PIN. ${answer.tries_left} tries left.`;
  }
  if (answer.verdict === "auth") return "Sign on first; what was typed stays here.";
  if (answer.verdict === "conflict") return "This was sent before with other content. Reload the page.";
  return answer.reasons.map((/** @type {{text: string}} */ reason) => reason.text).join(" ");
}

function refresh() {
  const left = window.scrollX, top = window.scrollY;
  // @ts-ignore htmx comes from its own script
  return htmx.ajax("GET", location.pathname, { target: "#step", select: "#step", swap: "outerHTML", headers: {} })
    .then(() => window.scrollTo(left, top));
}

/** @param {HTMLFormElement} form @param {HTMLElement | null} button */
async function send(form, button) {
  const work = form.closest("[data-entries]") ?? document.querySelector("[data-entries]");
  if (!(work instanceof HTMLElement)) return;
  const gathered = asked(form, button);
  const draft = draftOf(gathered);
  if (gathered.entry === "photo") draft.value = await photoValue(form, work);
  const entry = stamped(work, form, draft);
  const response = await fetch(work.dataset.entries ?? "", {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-CSRFToken": token(document) },
    body: JSON.stringify({ entries: [entry] }),
  });
  const { answers } = await response.json();
  showConnection(document, true);
  const [answer] = answers;
  if (answer.verdict === "applied") {
    waiting.delete(form);
    await refresh();
    return;
  }
  if (answer.verdict === "refused") waiting.delete(form);
  say(form, words(answer));
}

/** @param {Document} page */
export function watchEntries(page) {
  page.addEventListener("submit", (event) => {
    const form = event.target;
    if (!(form instanceof HTMLFormElement) || !form.matches("[data-entry]")) return;
    event.preventDefault();
    if (form.dataset.busy) return;
    form.dataset.busy = "1";
    say(form, "");
    const button = event instanceof SubmitEvent ? event.submitter : null;
    send(form, button).catch((fault) => {
      if (fault instanceof TypeError || fault instanceof SyntaxError) {
        showConnection(page, false);
        say(form, "Not sent: the server did not answer. It is still here; try again.");
      } else {
        say(form, String(fault.message ?? fault));
      }
    }).finally(() => { delete form.dataset.busy; });
  });
}
