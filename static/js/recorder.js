// @ts-check
/** Records a settling: a reading at each tap, or one every five seconds; the server fits what was taken. */
import { showConnection } from "./connection.js";
import { formName } from "./keep.js";
import { readNumber } from "./number.js";
import { say } from "./say.js";
import { keepDraft, withRow, withoutLast } from "./series.js";
import { beep } from "./sound.js";

const EVERY_MS = 5000;
/** The form that beeps, by its name: the page may be loaded anew meanwhile. */
let beating = "", heartbeat = 0;

/** Seconds since the first row; the first row is the beginning. @param {number} began_ms @param {number} stamped_ms */
export function secondsAt(began_ms, stamped_ms) {
  return String(Math.max(0, Math.round((stamped_ms - began_ms) / 100) / 10));
}

/** @param {Element} form @param {string} what */
function input(form, what) {
  const found = form.querySelector(what);
  return found instanceof HTMLInputElement || found instanceof HTMLTextAreaElement ? found : null;
}

/** Shows what the next row is stamped with. @param {HTMLFormElement} form */
function showStamp(form) {
  const value = input(form, "[name=add_value]"), place = form.querySelector("[data-stamp]");
  if (!value || !place) return;
  const stamped = Number(value.dataset.stopped), began = Number(form.dataset.began);
  place.textContent = stamped ? `${began ? secondsAt(began, stamped) : "0"} s` : "";
}

/** Stamps the reading that is typed next. @param {HTMLFormElement} form @param {boolean} keep whether a stamp that stands is kept */
function stamp(form, keep) {
  const value = input(form, "[name=add_value]");
  if (!value || (keep && value.value)) return;
  value.dataset.stopped = String(Date.now());
  showStamp(form);
}

/** @param {HTMLFormElement} form */
function addRow(form) {
  const time = input(form, "[name=add_t]"), value = input(form, "[name=add_value]"), rows = input(form, "textarea");
  const answer = form.querySelector(".answer");
  if (!time || !value || !rows || !value.value.trim()) { value?.focus(); return; }
  const fault = readNumber(value.value, value.dataset.unit ?? "") === null;
  value.setAttribute("aria-invalid", String(fault));
  if (answer) answer.textContent = fault ? say("“{typed}” is not a number. Type digits with one comma or point.", { typed: value.value }) : "";
  if (fault) { value.focus(); return; }
  const stamped = Number(value.dataset.stopped) || Date.now(), began = Number(form.dataset.began) || stamped;
  form.dataset.began = String(began);
  rows.value = withRow(rows.value, time.value.trim() || secondsAt(began, stamped), value.value);
  time.value = value.value = value.dataset.stopped = "";
  value.dispatchEvent(new Event("input", { bubbles: true }));
  keepDraft(form);
  showFit(form).catch(() => undefined);
  showStamp(form);
  value.focus({ preventScroll: true });
}

/** Asks the server for the fit of what was taken, and shows it. @param {HTMLFormElement} form */
export async function showFit(form) {
  const place = form.querySelector("[data-settling]"), rows = input(form, "textarea");
  if (!(place instanceof HTMLElement) || !rows) return;
  const says = place.querySelector("[data-says]"), curve = place.querySelector("[data-curve]");
  if (!says || !curve || !rows.value.trim()) { if (curve) curve.replaceChildren(); if (says) says.textContent = ""; return; }
  const query = new URLSearchParams({ item: form.dataset.item ?? "", rows: rows.value });
  const headers = beating ? { "X-By-Itself": "1" } : undefined;
  try {
    const response = await fetch(`${place.dataset.settling}?${query}`, { headers });
    if (!response.ok) throw new TypeError("no answer");
    const found = await response.json(), drawn = new DOMParser().parseFromString(found.picture, "image/svg+xml").documentElement;
    if (found.picture) curve.replaceChildren(document.importNode(drawn, true));
    says.textContent = [found.text, found.tau, found.more].filter(Boolean).join(" · ");
    place.classList.toggle("settling-enough", found.enough);
  } catch {
    showConnection(document, false);
    says.textContent = says.getAttribute("data-alone");
  }
}

/** @param {Document} page */
function recorders(page) {
  return /** @type {HTMLFormElement[]} */ ([...page.querySelectorAll('form[data-entry="series"]')]).filter((form) => form.querySelector("[data-settling]"));
}

/** @param {Document} page */
function showBeat(page) {
  for (const form of recorders(page)) form.querySelector("[data-beat]")?.setAttribute("aria-pressed", String(formName(form.dataset) === beating));
}

/** One beat: a beep, and the stamp of the reading to be typed now. @param {Document} page */
function beat(page) {
  const form = recorders(page).find((each) => formName(each.dataset) === beating);
  if (!form) return;
  beep(1200, 0.09);
  stamp(form, true);
}

/** @param {Document} page @param {Window} view */
export function watchRecorder(page, view) {
  page.addEventListener("click", (event) => {
    const target = event.target instanceof Element ? event.target : null, form = target?.closest("form");
    if (!form || !target) return;
    if (target.closest("[data-add-row]")) addRow(form);
    if (target.closest("[data-take]")) { stamp(form, false); input(form, "[name=add_value]")?.focus({ preventScroll: true }); input(form, "[name=add_value]")?.click(); }
    if (target.closest("[data-drop-row]")) {
      const rows = input(form, "textarea");
      if (rows) rows.value = withoutLast(rows.value);
      if (rows && !rows.value) delete form.dataset.began;
      keepDraft(form);
      showFit(form).catch(() => undefined);
    }
    if (target.closest("[data-beat]")) {
      view.clearInterval(heartbeat);
      beating = formName(form.dataset) === beating ? "" : formName(form.dataset);
      if (beating) { heartbeat = view.setInterval(() => beat(page), EVERY_MS); beat(page); input(form, "[name=add_value]")?.click(); }
      showBeat(page);
    }
  });
  page.addEventListener("input", (event) => {
    const field = event.target;
    if (!(field instanceof HTMLInputElement) || !field.matches("[name=add_value]") || !field.form) return;
    field.dataset.stopped = field.value ? field.dataset.stopped || String(Date.now()) : "";
    showStamp(field.form);
  });
  page.addEventListener("change", (event) => {
    if (event.target instanceof HTMLTextAreaElement && event.target.form?.querySelector("[data-settling]")) showFit(event.target.form).catch(() => undefined);
  });
  page.addEventListener("keydown", (event) => {
    const field = event.target;
    if (event.key !== "Enter" || !(field instanceof HTMLInputElement) || !field.matches("[name=add_value], [name=add_t]") || !field.form) return;
    event.preventDefault();
    addRow(field.form);
  });
  const settle = () => { showBeat(page); for (const form of recorders(page)) showFit(form).catch(() => undefined); };
  page.addEventListener("htmx:afterSettle", settle);
  settle();
}
