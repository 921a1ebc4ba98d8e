// @ts-check
/** Shows what waits on this tablet: the counter in the bar on every page, the rows at their item on a step's page. */
import { isConnected } from "./connection.js";
import { drawRow } from "./queue_row.js";
import { formName } from "./keep.js";
import { outcomes, queuedOf } from "./outbox.js";
import { all } from "./outbox_store.js";
import { countWords } from "./queue_words.js";
import { refresh } from "./refresh.js";
import { say } from "./say.js";

/** @param {Document} page @param {any[]} rows */
function count(page, rows) {
  const sign = page.querySelector("[data-queue]");
  if (!(sign instanceof HTMLElement)) return;
  const { waiting, held, long } = countWords(rows);
  const number = sign.querySelector("[data-queue-number]"), words = sign.querySelector("[data-queue-words]"), refused = sign.querySelector("[data-queue-held]");
  if (number) number.textContent = String(waiting);
  if (words) words.textContent = waiting === 1 ? say("waits") : say("wait");
  if (refused instanceof HTMLElement) {
    refused.hidden = held === 0;
    refused.textContent = say("{n} not taken", { n: held });
  }
  sign.setAttribute("aria-label", long);
  sign.classList.toggle("queue-some", waiting + held > 0);
}

/** The form in which a row was made, or the first that asks for its item. @param {ParentNode} step @param {any} row */
function placeOf(step, row) {
  const forms = /** @type {HTMLFormElement[]} */ ([...step.querySelectorAll("form[data-entry]")]);
  return forms.find((form) => formName(form.dataset) === row.form) ?? forms.find((form) => row.item && form.dataset.item === row.item) ?? null;
}

/** Items of which any number may be entered, so that their form stays. */
const ANY_NUMBER = /[._](note|photo)$/;
/** Rows as they are drawn: one that has not changed stays, with what is being typed in it. @type {Map<string, {sign: string, drawn: HTMLElement}>} */
const shown = new Map();

/** @param {any} row @returns {HTMLElement} */
function drawnOf(row) {
  const sign = JSON.stringify([row.state, row.full ?? false, row.shut_out ?? false, row.label, row.what, row.answer, row.photo ?? false, isConnected(document)]), before = shown.get(row.key);
  if (before?.sign === sign) return before.drawn;
  before?.drawn.remove();
  const drawn = /** @type {HTMLElement} */ (drawRow(row, true));
  shown.set(row.key, { sign, drawn });
  return drawn;
}

/** Rows without a place of their own stand under the heading. @param {HTMLElement} work @param {HTMLElement[]} rest */
function drawRest(work, rest) {
  const old = work.querySelector("[data-queued-list]");
  if (!rest.length) { old?.remove(); return; }
  const list = /** @type {HTMLElement} */ (old ?? document.createElement("div"));
  list.className = "queued-list";
  list.dataset.queuedList = "";
  if (!old) work.querySelector("h1")?.after(list);
  for (const each of rest) if (each.parentElement !== list) list.append(each);
}

/** Draws what waits at its item; a form that asks for one value only gives way to it. @param {Document} page @param {any[]} rows */
function draw(page, rows) {
  const step = page.getElementById("step"), work = step?.querySelector("[data-job]");
  if (!step || !(work instanceof HTMLElement)) return;
  const mine = rows.filter((each) => each.job === work.dataset.job), drawn = mine.map(drawnOf), rest = /** @type {HTMLElement[]} */ ([]);
  for (const old of step.querySelectorAll("[data-queued]")) if (!drawn.includes(/** @type {HTMLElement} */ (old))) old.remove();
  for (const form of step.querySelectorAll("form[data-gave-way]")) if (form instanceof HTMLFormElement) { form.hidden = false; delete form.dataset.gaveWay; }
  mine.forEach((row, index) => {
    const form = placeOf(step, row), each = drawn[index];
    if (form?.dataset.busy) { each.remove(); return; }
    if (!form) {
      const slug = location.pathname.split("/").filter(Boolean).pop() ?? "";
      if (row.page === location.pathname || row.item.startsWith(`${slug}.`)) rest.push(each);
      else each.remove();
      return;
    }
    if (each.parentElement !== form.parentElement || each.closest("[data-queued-list]")) form.parentElement?.insertBefore(each, form.nextSibling);
    if (row.state === "waiting" && form.dataset.kind === "value" && !ANY_NUMBER.test(row.item) && !form.querySelector("[data-part], [name=bolt]") && form.dataset.entry !== "sample") {
      form.hidden = true;
      form.dataset.gaveWay = "";
    }
  });
  drawRest(work, rest);
}

/** What waited here when it was last looked at. */
/** @type {string[]} */
let before = [];

/** What was taken meanwhile is shown as recorded, unless a form is on its way. @param {Document} page @param {any[]} rows */
async function showTaken(page, rows) {
  const work = page.querySelector("#step [data-job]");
  const here = rows.filter((row) => work instanceof HTMLElement && row.job === work.dataset.job).map((row) => row.key);
  const left = before.filter((key) => !here.includes(key));
  before = here;
  // What was refused and dropped is said at its field; a page loaded anew would take those words away.
  const fewer = (await outcomes(left)).some((answer) => answer?.verdict === "applied");
  if (fewer && isConnected(page) && !page.querySelector("form[data-busy], canvas[data-pen]")) await refresh(null);
}

/** @param {Document} page */
export async function showWaiting(page) {
  const pictures = (await all("photos")).map((photo) => ({ ...photo, ...photo.about, entry: { ...photo.draft, job: photo.job }, photo: true }));
  const rows = [...await queuedOf(), ...pictures];
  count(page, rows);
  draw(page, rows);
  await showTaken(page, rows);
}

/** @param {Document} page */
export function watchWaiting(page) {
  const show = () => { showWaiting(page).catch(() => undefined); };
  page.addEventListener("coldbus:queue", show);
  page.addEventListener("htmx:afterSettle", show);
  show();
}
