// @ts-check
/** Shows what waits on this tablet: the counter in the bar on every page, the rows at their item on a step's page. */
import { isConnected } from "./connection.js";
import { drawRow } from "./queue_row.js";
import { formName } from "./keep.js";
import { outcomes, queuedOf } from "./outbox.js";
import { all } from "./outbox_store.js";
import { countWords } from "./queue_words.js";
import { refresh } from "./refresh.js";

/** @param {Document} page @param {any[]} rows */
function count(page, rows) {
  const sign = page.querySelector("[data-queue]");
  if (!(sign instanceof HTMLElement)) return;
  const { waiting, held, long } = countWords(rows);
  const number = sign.querySelector("[data-queue-number]"), words = sign.querySelector("[data-queue-words]"), refused = sign.querySelector("[data-queue-held]");
  if (number) number.textContent = String(waiting);
  if (words) words.textContent = waiting === 1 ? "waits" : "wait";
  if (refused instanceof HTMLElement) {
    refused.hidden = held === 0;
    refused.textContent = `${held} not taken`;
  }
  sign.setAttribute("aria-label", long);
  sign.classList.toggle("queue-some", waiting + held > 0);
}

/** The form in which a row was made, or the first that asks for its item. @param {ParentNode} step @param {any} row */
function placeOf(step, row) {
  const forms = /** @type {HTMLFormElement[]} */ ([...step.querySelectorAll("form[data-entry]")]);
  return forms.find((form) => formName(form.dataset) === row.form) ?? forms.find((form) => row.item && form.dataset.item === row.item) ?? null;
}

/** Draws what waits at its item; a form that asks for one value only gives way to it. @param {Document} page @param {any[]} rows */
function draw(page, rows) {
  const step = page.getElementById("step"), work = step?.querySelector("[data-job]");
  if (!step || !(work instanceof HTMLElement)) return;
  for (const old of step.querySelectorAll("[data-queued], [data-queued-list]")) old.remove();
  for (const form of step.querySelectorAll("form[data-gave-way]")) if (form instanceof HTMLFormElement) { form.hidden = false; delete form.dataset.gaveWay; }
  const rest = [];
  for (const row of rows.filter((each) => each.job === work.dataset.job)) {
    const form = placeOf(step, row), drawn = drawRow(row, true);
    if (form?.dataset.busy) continue;
    if (!form) {
      const slug = location.pathname.split("/").filter(Boolean).pop() ?? "";
      if (row.page === location.pathname || row.item.startsWith(`${slug}.`)) rest.push(drawn);
      continue;
    }
    form.parentElement?.insertBefore(drawn, form.nextSibling);
    if (row.state === "waiting" && form.dataset.kind === "value" && !form.querySelector("[data-part], [name=bolt]") && form.dataset.entry !== "sample") {
      form.hidden = true;
      form.dataset.gaveWay = "";
    }
  }
  if (!rest.length) return;
  const list = page.createElement("div");
  list.className = "queued-list";
  list.dataset.queuedList = "";
  list.append(...rest);
  work.querySelector("h1")?.after(list);
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
