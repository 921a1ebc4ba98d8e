// @ts-check
/** The keypad: a sheet over the page with large keys for the number field that was touched. */
import { pressedPrefix, unitOf } from "./look.js";
import { afterKey, prefixTyped } from "./number.js";

const FIELD = 'form[data-entry] input[inputmode="decimal"], form[data-entry] input[inputmode="none"]';
const OWN = "keypad|own";
/** @type {HTMLInputElement | null} */
let field = null;

/** @param {Document} page */
function padOf(page) {
  return /** @type {HTMLElement | null} */ (page.querySelector(".keypad"));
}

/** @param {Element | null} each */
function isNumber(each) {
  return each instanceof HTMLInputElement && each.matches(FIELD) ? each : null;
}

/** Fields of the same form that are still empty, after this one. @param {HTMLInputElement} from */
function nextEmpty(from) {
  const all = /** @type {HTMLInputElement[]} */ ([...(from.form?.querySelectorAll(FIELD) ?? [])]).filter((each) => each.required);
  return all.slice(all.indexOf(from) + 1).find((each) => !each.value.trim()) ?? null;
}

/** @param {HTMLElement} pad @param {string} name @param {string} text */
function write(pad, name, text) {
  const place = pad.querySelector(`[data-keypad="${name}"]`);
  if (place) place.textContent = text;
}

/** Presses those keys of the keypad that stand for what is chosen. @param {HTMLElement} pad @param {string} name @param {string} chosen */
function press(pad, name, chosen) {
  for (const key of pad.querySelectorAll(`[data-key-${name}]`)) key.setAttribute("aria-pressed", String(key.getAttribute(`data-key-${name}`) === chosen));
}

/** Shows back what stands in the field. @param {Document} page */
function draw(page) {
  const pad = padOf(page);
  if (!pad || !field) return;
  const unit = unitOf(field), words = field.closest("form")?.querySelector(".unit")?.textContent ?? unit;
  const prefix = prefixTyped(field.value, unit) ? "" : pressedPrefix(field);
  const compare = field.name === "value" ? /** @type {HTMLInputElement | null} */ (field.form?.elements.namedItem("comparator") ?? null) : null;
  write(pad, "compare", compare?.value ?? "");
  write(pad, "shown", field.value.replaceAll("-", "\u2212") || "–");
  write(pad, "unit", `${unit === "ohm" ? prefix : ""}${field.dataset.words ?? words}`);
  pad.classList.toggle("keypad-ohm", unit === "ohm" && field.name === "value");
  pad.classList.toggle("keypad-bound", compare !== null);
  press(pad, "prefix", prefixTyped(field.value, unit) || prefix);
  press(pad, "compare", compare?.value ?? "");
  const enter = pad.querySelector('[data-key="enter"]'), after = nextEmpty(field);
  const submit = field.form?.querySelector(field.name.startsWith("add_") ? "[data-add-row]" : "button[type=submit]");
  if (enter instanceof HTMLElement) enter.textContent = after ? (enter.dataset.next ?? "") : (submit?.textContent ?? "").trim();
}

/** Brings the field clear of the keypad. @param {Document} page @param {Window} view */
function clear(page, view) {
  const pad = padOf(page), box = (field?.closest(".reading, .rows label, .sample-field") ?? field)?.getBoundingClientRect();
  if (!pad || !box) return;
  const over = box.bottom + 12 - (view.innerHeight - pad.offsetHeight);
  if (over > 0) view.scrollBy({ top: over, behavior: "instant" });
}

/** Says which number is typed: the row, which one of a collection, what was chosen, else the card. @param {HTMLInputElement} each */
function whatOf(each) {
  const card = each.closest(".card"), own = each.closest("label")?.textContent ?? "", row = each.closest("label")?.querySelector(".row-name")?.textContent;
  const parts = /** @type {HTMLSelectElement[]} */ ([...(each.form?.querySelectorAll("select[data-part]") ?? [])])
    .map((box) => `${box.labels?.[0]?.firstChild?.textContent ?? ""} ${box.selectedOptions[0]?.text ?? ""}`).join(", ");
  const which = card?.querySelector(".card-head .which, summary .which")?.textContent, head = card?.querySelector("h3, summary span")?.textContent;
  const named = each.name === "value" || each.name === "add_value" ? (parts || which || head) : own;
  return `${row ?? named ?? own}`.replace(/\s+/g, " ").trim();
}

/** @param {Document} page @param {Window} view @param {HTMLInputElement} touched */
function open(page, view, touched) {
  const source = page.getElementById("keypad");
  if (!padOf(page) && source instanceof HTMLTemplateElement) page.body.append(source.content.cloneNode(true));
  const pad = padOf(page);
  if (!pad) return;
  field = touched;
  write(pad, "what", whatOf(field));
  write(pad, "means", "");
  pad.hidden = false;
  page.body.classList.add("keypad-open");
  draw(page);
  clear(page, view);
}

/** @param {Document} page */
function close(page) {
  padOf(page)?.setAttribute("hidden", "");
  page.body.classList.remove("keypad-open");
  field = null;
}

/** Enter: on to the next field that is empty, else what the form's own button does. */
function enter() {
  if (!field) return;
  const after = nextEmpty(field), form = field.form;
  if (after) { after.focus(); return; }
  if (field.dispatchEvent(new KeyboardEvent("keydown", { key: "Enter", bubbles: true, cancelable: true }))) form?.requestSubmit();
}

/** @param {HTMLElement} key @param {Document} page */
function strike(key, page) {
  const { key: name, keyPrefix, keyCompare } = key.dataset;
  if (name === "close") { close(page); return; }
  if (name === "system" && field) { localStorage.setItem(OWN, "0"); field.inputMode = "decimal"; field.blur(); field.focus(); close(page); return; }
  if (name === "enter") { enter(); return; }
  if (!field) return;
  const button = keyPrefix !== undefined ? `[data-prefix="${keyPrefix}"]` : `[data-compare="${keyCompare}"]`;
  if (name === undefined) field.form?.querySelector(button)?.dispatchEvent(new MouseEvent("click", { bubbles: true }));
  else {
    field.value = afterKey(field.value, name);
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
  draw(page);
}

/** @param {Document} page @param {Window} view */
export function watchKeypad(page, view) {
  page.addEventListener("pointerdown", (event) => {
    const target = event.target instanceof Element ? event.target : null, touched = isNumber(target);
    if (target?.closest(".keypad")) { event.preventDefault(); return; }
    // Before the focus comes, so that the tablet's own keyboard stays away.
    if (touched && localStorage.getItem(OWN) !== "0") touched.inputMode = "none";
  });
  page.addEventListener("click", (event) => {
    const target = event.target instanceof Element ? event.target : null, touched = isNumber(target);
    const key = target?.closest(".keypad button");
    if (key instanceof HTMLElement) strike(key, page);
    else if (target?.closest("[data-own-keypad]")) localStorage.removeItem(OWN);
    else if (touched && localStorage.getItem(OWN) !== "0") open(page, view, touched);
  });
  page.addEventListener("focusin", (event) => {
    if (!page.body.classList.contains("keypad-open")) return;
    const each = event.target instanceof Element ? event.target : null, next = isNumber(each);
    if (next) { next.inputMode = "none"; open(page, view, next); } else if (each && !each.closest(".keypad")) close(page);
  });
  page.addEventListener("input", () => draw(page));
  view.addEventListener("resize", () => { if (field) clear(page, view); });
  page.addEventListener("means", (event) => {
    const pad = padOf(page), { lines, doubt } = /** @type {CustomEvent} */ (event).detail;
    if (!pad || event.target !== field) return;
    write(pad, "means", lines.join(" "));
    pad.classList.toggle("keypad-doubt", doubt);
  });
  page.addEventListener("keydown", (event) => { if (event.key === "Escape") close(page); });
}
