// @ts-check
/** Samples and rows taken one after another: their time, their units, and what is kept on this tablet. */
import { formName } from "./keep.js";
import { paperOn } from "./paper.js";

/** When a form was first seen, and when its clock was stopped [ms]. @type {WeakMap<Element, {seen: number, stopped: number | null}>} */
const clocks = new WeakMap();

/** Seconds on the clock of a test. @param {string} started @param {string} now @param {number} since_ms */
export function secondsSince(started, now, since_ms) {
  if (!started) return 0;
  return Math.max(0, Math.round((Date.parse(now) - Date.parse(started) + since_ms) / 1000));
}

/** Adds a row to what is typed; the columns are divided by a semicolon. @param {string} text @param {string} time @param {string} value */
export function withRow(text, time, value) {
  const before = text.replace(/\s+$/, "");
  return `${before ? `${before}\n` : ""}${time.trim()}; ${value.trim()}\n`;
}

/** Takes the last row off. @param {string} text */
export function withoutLast(text) {
  const rows = text.replace(/\s+$/, "").split("\n").slice(0, -1);
  return rows.length ? `${rows.join("\n")}\n` : "";
}

/** @param {Element} root @param {string} what */
function input(root, what) {
  const found = root.querySelector(what);
  return found instanceof HTMLInputElement || found instanceof HTMLTextAreaElement ? found : null;
}

/** @param {Element} root */
function clockOf(root) {
  const known = clocks.get(root) ?? { seen: performance.now(), stopped: null };
  clocks.set(root, known);
  return known;
}

/** Moves every clock that was not stopped. @param {ParentNode} page */
function tick(page) {
  for (const root of page.querySelectorAll("[data-started]")) {
    const { started, now } = /** @type {HTMLElement} */ (root).dataset;
    const clock = clockOf(root), field = input(root, "[data-clock]"), lag = input(root, "[data-lag]");
    const since = performance.now() - clock.seen, typed = input(root, "[data-stops-clock]")?.value;
    // What was typed before the page was loaded anew had stopped the clock already.
    if (clock.stopped === null && typed) clock.stopped = performance.now() - 1000 * Number(lag?.value ?? 0);
    if (clock.stopped !== null && lag) lag.value = String(Math.round((performance.now() - clock.stopped) / 1000));
    if (field && clock.stopped === null && started) field.value = String(secondsSince(started, now ?? "", since));
  }
}

/** What a tablet keeps of a form until it is entered. @param {HTMLFormElement} form */
function draftName(form) {
  const job = form.closest("[data-job]");
  return `draft|${job instanceof HTMLElement ? job.dataset.job : ""}|${formName(form.dataset)}`;
}

/** @param {HTMLFormElement} form */
export function keepDraft(form) {
  const fields = [...form.querySelectorAll("input[data-row], textarea")].map((field) => /** @type {HTMLInputElement} */ (field).value);
  const name = draftName(form);
  if (fields.some(Boolean)) localStorage.setItem(name, JSON.stringify({ fields, began: form.dataset.began ?? "" }));
  else localStorage.removeItem(name);
}

/** Forgets what was typed, because it was entered. @param {HTMLFormElement} form */
export function forgetDraft(form) {
  localStorage.removeItem(draftName(form));
}

/** Puts back what was typed and not entered yet. @param {Document} page */
export function restoreDrafts(page) {
  for (const form of page.querySelectorAll('form[data-entry="series"], form[data-entry="table"]')) {
    if (!(form instanceof HTMLFormElement)) continue;
    const kept = JSON.parse(localStorage.getItem(draftName(form)) ?? "null");
    const fields = [...form.querySelectorAll("input[data-row], textarea")];
    fields.forEach((field, index) => {
      const each = /** @type {HTMLInputElement} */ (field);
      if (!each.value && kept?.fields[index]) each.value = kept.fields[index];
    });
    if (kept?.began) form.dataset.began = kept.began;
  }
  for (const group of page.querySelectorAll("[data-sets]")) press(group, localStorage.getItem(unitName(page, /** @type {HTMLElement} */ (group))));
}

/** Under which name a chosen unit is kept: a sheet's own holds for that sheet alone. @param {ParentNode} page @param {HTMLElement} group */
function unitName(page, group) {
  return group.dataset.sets === "in" ? `unit|${paperOn(page)?.sheet}|${group.querySelectorAll("[data-choose]")[0]?.getAttribute("data-choose")}` : `unit|${group.dataset.sets}`;
}

/** The word beside the field and on the keypad follows the unit that was chosen. @param {Element} group @param {string} words */
function spellUnit(group, words) {
  const form = group.closest("form");
  for (const word of form?.querySelectorAll(".unit") ?? []) word.textContent = words;
  for (const each of form?.querySelectorAll("input[data-words]") ?? []) if (each instanceof HTMLElement) each.dataset.words = words;
}

/** Presses a unit button and says so to its hidden field. @param {Element} group @param {string | null} unit */
function press(group, unit) {
  const buttons = /** @type {HTMLElement[]} */ ([...group.querySelectorAll("[data-choose]")]);
  if (!unit || !buttons.some((button) => button.dataset.choose === unit)) return;
  for (const button of buttons) button.setAttribute("aria-pressed", String(button.dataset.choose === unit));
  const field = input(group.parentElement ?? group, `input[name="${/** @type {HTMLElement} */ (group).dataset.sets}"]`);
  if (field) field.value = unit;
  if (/** @type {HTMLElement} */ (group).dataset.sets === "in") spellUnit(group, buttons.find((button) => button.dataset.choose === unit)?.textContent ?? "");
}

/** @param {Document} page @param {Window} view */
export function watchSeries(page, view) {
  page.addEventListener("click", (event) => {
    const target = event.target instanceof Element ? event.target : null;
    const button = target?.closest("[data-choose]"), group = button?.closest("[data-sets]");
    if (button instanceof HTMLElement && group instanceof HTMLElement) {
      press(group, button.dataset.choose ?? "");
      localStorage.setItem(unitName(page, group), button.dataset.choose ?? "");
      // What the number means is asked again in its new unit.
      button.closest("form")?.querySelector("input[data-unit]")?.dispatchEvent(new Event("input", { bubbles: true }));
    }
  });
  page.addEventListener("input", (event) => {
    const field = event.target, root = field instanceof Element ? field.closest("[data-started]") : null;
    if (!(field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement)) return;
    if (root && field.matches("[data-stops-clock], [data-clock]")) clockOf(root).stopped = field.value ? (clockOf(root).stopped ?? performance.now()) : null;
    if (field.form?.matches('[data-entry="series"], [data-entry="table"]')) keepDraft(field.form);
  });
  const settle = () => { restoreDrafts(page); tick(page); };
  page.addEventListener("htmx:afterSettle", settle);
  settle();
  view.setInterval(() => tick(page), 1000);
}
