// @ts-check
/** Says beside a number that is being typed what it means: the server decides, the page only shows. */
import { prefixTyped, readNumber, withPrefix } from "./number.js";
import { say } from "./say.js";

const WAIT_MS = 250;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let waiting;
let asked = 0;

/** The unit that was chosen for a form, where there is more than one. @param {HTMLElement} field */
function chosenUnit(field) {
  const chosen = field.closest("form")?.elements.namedItem("in");
  return chosen instanceof HTMLInputElement ? chosen.value : "";
}

/** The unit in which a field is typed. @param {HTMLElement} field */
export function unitOf(field) {
  return chosenUnit(field) || (field.dataset.unit ?? field.closest("form")?.dataset.unit ?? "");
}

/** The prefix whose button is pressed beside a field. @param {HTMLElement} field */
export function pressedPrefix(field) {
  const pressed = field.closest("form")?.querySelector('[data-prefix][aria-pressed="true"]');
  return pressed instanceof HTMLElement ? (pressed.dataset.prefix ?? "") : "";
}

/** Presses one of a row of buttons. @param {ParentNode} root @param {string} name @param {string} value */
function press(root, name, value) {
  for (const each of root.querySelectorAll(`[data-${name}]`)) {
    each.setAttribute("aria-pressed", String(/** @type {HTMLElement} */ (each).dataset[name] === value));
  }
}

/** Shows which buttons count: a prefix typed by hand, a bound that was chosen. @param {ParentNode} root */
export function showPressed(root) {
  for (const field of root.querySelectorAll("input[name=value][data-unit]")) {
    const each = /** @type {HTMLInputElement} */ (field), form = each.form, typed = prefixTyped(each.value, unitOf(each));
    const bound = form?.elements.namedItem("comparator");
    if (form && typed) press(form, "prefix", typed);
    if (form && bound instanceof HTMLInputElement) press(form, "compare", bound.value);
  }
}

/** What is sent of a field: bound, digits, prefix. @param {HTMLInputElement} field */
export function sentOf(field) {
  const bound = field.name === "value" ? field.form?.elements.namedItem("comparator") : null;
  return `${bound instanceof HTMLInputElement ? bound.value : ""}${withPrefix(field.value, unitOf(field), pressedPrefix(field))}`;
}

/** @param {HTMLInputElement} field @param {{verdict: string, text?: string, means?: string, doubts?: string[]}} answer */
function tell(field, answer) {
  const refused = answer.verdict === "refused";
  const lines = refused ? [answer.text ?? ""] : [answer.means ?? "", ...(answer.doubts ?? [])].filter(Boolean);
  field.setAttribute("aria-invalid", String(refused));
  field.dispatchEvent(new CustomEvent("means", { bubbles: true, detail: { lines, doubt: refused || lines.length > 1 } }));
  const said = field.closest(".reading")?.querySelector(".means");
  if (!said) return;
  said.textContent = lines.join(" ");
  said.classList.toggle("doubt", refused || lines.length > 1);
}

/** @param {HTMLInputElement} field */
async function ask(field) {
  const form = field.form, work = field.closest("[data-look]"), turn = ++asked, typed = sentOf(field);
  if (!(work instanceof HTMLElement) || !form || !field.value.trim()) { tell(field, { verdict: "taken" }); return; }
  const query = new URLSearchParams({ item: form.dataset.item ?? "", typed, in: chosenUnit(field) });
  try {
    const response = await fetch(`${work.dataset.look}?${query}`);
    if (response.ok && turn === asked) tell(field, await response.json());
  } catch {
    // Without the server only the strict reading is known; what is odd is said once it is entered.
    const number = readNumber(withPrefix(field.value, unitOf(field), pressedPrefix(field)), unitOf(field));
    tell(field, number === null ? { verdict: "refused", text: say("This is not a number. Type digits with one comma or point.") } : { verdict: "taken" });
  }
}

/** @param {HTMLInputElement} field */
export function look(field) {
  clearTimeout(waiting);
  waiting = setTimeout(() => { ask(field).catch(() => undefined); }, WAIT_MS);
}

/** @param {Document} page */
export function watchLooks(page) {
  page.addEventListener("input", (event) => {
    const field = event.target;
    if (!(field instanceof HTMLInputElement) || field.type === "hidden" || field.inputMode === "numeric" || !field.matches("[data-unit], [data-row]")) return;
    if (field.form) showPressed(field.form);
    look(field);
  });
  page.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? event.target.closest("[data-prefix], [data-compare]") : null;
    const form = button?.closest("form"), field = form?.elements.namedItem("value");
    if (!(button instanceof HTMLElement) || !form || !(field instanceof HTMLInputElement)) return;
    const bound = form.elements.namedItem("comparator"), { prefix, compare } = button.dataset;
    if (prefix !== undefined) {
      field.value = field.value.replace(/([0-9])\s*[kM]\s*$/, "$1");
      press(form, "prefix", prefix);
    } else if (bound instanceof HTMLInputElement) {
      bound.value = bound.value === compare ? "" : (compare ?? "");
      if (bound.value && button.dataset.most && !field.value) field.value = button.dataset.most;
      press(form, "compare", bound.value);
    }
    field.focus({ preventScroll: true });
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });
  page.addEventListener("htmx:afterSettle", () => showPressed(page));
}
