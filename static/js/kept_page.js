// @ts-check
/** What a kept page says of itself, and an open one that lost its connection: how old, not confirmed, what needs the server. */
import { isConnected } from "./connection.js";
import { refresh } from "./refresh.js";
import { language, say } from "./say.js";

const TICK_MS = 15_000, MINUTE_MS = 60_000, HOUR_MIN = 60;
/** What needs the server's answer, and is never kept to be sent later. */
const NEEDS_ANSWER = ["hold", "proof", "proof_end", "reopen", "countersign", "revision", "close"];
const FORMS = NEEDS_ANSWER.map((kind) => `form[data-kind="${kind}"]`).join(", ");

/** How old a page is, in words. @param {number} age_ms */
export function ageWords(age_ms) {
  const min = Math.max(0, Math.floor(age_ms / MINUTE_MS));
  if (min < HOUR_MIN) return say("{min} min old", { min });
  return say("{h} h {min} min old", { h: Math.floor(min / HOUR_MIN), min: min % HOUR_MIN });
}

/** @param {number} at_ms */
function clockWords(at_ms) {
  const at = new Date(at_ms), time = { hour: /** @type {const} */ ("2-digit"), minute: /** @type {const} */ ("2-digit"), hour12: false };
  if (at.toDateString() === new Date().toDateString()) return at.toLocaleTimeString(language(), time);
  return `${at.toLocaleDateString(language(), { day: "numeric", month: "short" })} ${at.toLocaleTimeString(language(), time)}`;
}

/** When the page was right for the last time. @param {Document} page @param {number} loaded_ms */
function rightAt(page, loaded_ms) {
  const kept = page.documentElement.dataset.keptAt;
  return kept ? Date.parse(kept) : loaded_ms;
}

/** Puts words at a place, once; without words takes them away. @param {Element | null | undefined} place @param {string} name @param {string} words @param {"prepend" | "append"} where */
function put(place, name, words, where = "append") {
  if (!place) return;
  let note = [...place.children].find((each) => each.matches(`[data-note="${name}"]`));
  if (!words) { note?.remove(); return; }
  if (!note) {
    note = place.ownerDocument.createElement(place.matches("p, button, button span") ? "span" : "p");
    note.setAttribute("data-note", name);
    note.className = `note-kept note-${name}`;
    place[where](note);
  }
  if (note.textContent !== words) note.textContent = words;
}

/** Shuts what needs the server's answer, or opens it again. @param {Document} page @param {boolean} shut */
function shutForms(page, shut) {
  for (const form of page.querySelectorAll(FORMS)) {
    put(form, "answer", shut ? say("Needs the server's answer.") : "");
    for (const button of form.querySelectorAll("button[type=submit]")) {
      if (shut && !button.hasAttribute("disabled")) button.setAttribute("data-shut", "");
      if (button.hasAttribute("data-shut")) button.toggleAttribute("disabled", shut);
      if (!shut) button.removeAttribute("data-shut");
    }
  }
}

/** Says what is old, or takes that away. @param {Document} page @param {number} loaded_ms */
function mark(page, loaded_ms) {
  const kept = page.documentElement.dataset.keptAt !== undefined, old = kept || !isConnected(page);
  const at_ms = rightAt(page, loaded_ms), at = clockWords(at_ms);
  page.documentElement.toggleAttribute("data-old", old);
  const main = page.getElementById("content");
  if (kept || page.querySelector("[data-job]")) put(main, "age", old ? say("Page from {at}, {age}", { at, age: ageWords(Date.now() - at_ms) }) : "", "prepend");
  put(page.querySelector(".hv p"), "band", old ? say("Last known at {at}, not confirmed:", { at }) : "", "prepend");
  for (const verdict of page.querySelectorAll(".verdict, .foot-words")) put(verdict, "verdict", old ? say("computed when connected") : "");
  shutForms(page, old);
}

/** Whether the server answers, and knows who is at this tablet. @param {Document} page */
async function answers(page) {
  const work = page.querySelector("[data-ends]");
  const address = work instanceof HTMLElement ? (work.dataset.ends ?? "") : page.location.pathname;
  const answer = await fetch(address, { headers: { "X-By-Itself": "1" } });
  return answer.status === 200 && !answer.redirected && answer.headers.has("X-Coldbus");
}

/** Brings a kept page up to date: a step keeps what was typed, a list is loaded. @param {Document} page @param {Window} view */
async function renew(page, view) {
  if (page.documentElement.dataset.keptAt === undefined || !view.navigator.onLine || !(await answers(page))) return;
  if (!page.getElementById("step")) { view.location.reload(); return; }
  await refresh(null);
}

/** Lists what is kept, on the page that stands for one that is not. @param {Document} page */
async function list(page) {
  const rows = page.querySelector("[data-kept-list]");
  if (!(rows instanceof HTMLElement) || !("caches" in globalThis)) return;
  const kept = await caches.open("coldbus-pages");
  for (const request of await kept.keys()) {
    const path = new URL(request.url).pathname, copy = await kept.match(request);
    const row = page.createElement("li"), link = page.createElement("a"), age = page.createElement("span");
    link.href = path;
    link.textContent = decodeURIComponent(copy?.headers.get("X-Kept-Title") ?? path).replace(/ · .*/, "");
    age.className = "soft";
    age.textContent = say("from {at}", { at: clockWords(Date.parse(copy?.headers.get("X-Kept-At") ?? "")) });
    row.append(link, age);
    rows.append(row);
  }
  rows.hidden = rows.children.length === 0;
  page.querySelector("[data-kept-none]")?.toggleAttribute("hidden", !rows.hidden);
}

/** @param {Document} page @param {Window} view */
export function watchKeptPage(page, view) {
  let loaded_ms = Date.now();
  const again = () => mark(page, loaded_ms);
  const back = () => { renew(page, view).catch(() => undefined); };
  page.addEventListener("coldbus:connection", () => { again(); if (isConnected(page)) back(); });
  page.addEventListener("htmx:beforeSwap", (/** @type {any} */ event) => {
    // What is not from our server takes nothing away from the page.
    if (!event.detail.xhr.getResponseHeader("X-Coldbus")) event.detail.shouldSwap = false;
  });
  page.addEventListener("htmx:afterSettle", () => {
    // The worker lets these through: what was swapped in has just come from the server.
    delete page.documentElement.dataset.keptAt;
    loaded_ms = Date.now();
    again();
  });
  page.addEventListener("click", (event) => {
    if (event.target instanceof Element && event.target.closest("[data-try-again]")) view.location.reload();
  });
  view.addEventListener("online", back);
  view.setInterval(() => { again(); back(); }, TICK_MS);
  list(page).catch(() => undefined);
  again();
  back();
}
