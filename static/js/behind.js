// @ts-check
/** Looks now and then whether the job went on at another tablet, and then loads the step anew. */
import { showConnection } from "./connection.js";
import { refresh } from "./refresh.js";

const EVERY_MS = 12000;
/** What must not be taken away: a form on its way, a pen on its field. */
const BUSY = "form[data-busy], canvas[data-pen]";

/**
 * Whether the page may be loaded anew now: nothing is being sent, and no pen is on a field.
 * @param {{busy: boolean, hidden: boolean}} state @param {string} mine @param {string} theirs
 */
export function behind({ busy, hidden }, mine, theirs) {
  return !busy && !hidden && theirs !== "" && theirs !== mine;
}

/** Whether a PIN is being typed, or a picture was chosen and not sent. @param {Document} page */
function holds(page) {
  const pin = page.activeElement;
  if (pin instanceof HTMLInputElement && pin.type === "password" && pin.value) return true;
  const files = /** @type {HTMLInputElement[]} */ ([...page.querySelectorAll("[data-ends] input[type=file]")]);
  return files.some((field) => field.files?.length);
}

/** @param {Document} page */
async function look(page) {
  const work = page.querySelector("[data-ends]");
  if (!(work instanceof HTMLElement) || page.hidden) return;
  const answer = await fetch(work.dataset.ends ?? "", { headers: { "X-By-Itself": "1" } });
  if (!answer.headers.get("X-Coldbus")) throw new TypeError("not the workshop's server");
  showConnection(page, true);
  const theirs = answer.status === 200 ? (await answer.json()).head : "";
  const busy = page.querySelector(BUSY) !== null || holds(page);
  const now = page.querySelector("[data-ends]");
  const mine = now instanceof HTMLElement ? (now.dataset.head ?? "") : "";
  if (behind({ busy, hidden: page.hidden }, mine, theirs)) await refresh(null);
}

/** @param {Document} page @param {Window} view */
export function watchOthers(page, view) {
  if (!page.querySelector("[data-ends]")) return;
  const now = () => { look(page).catch(() => showConnection(page, false)); };
  view.setInterval(now, EVERY_MS);
  view.addEventListener("online", now);
}
