// @ts-check
/** A scanner that types like a keyboard: fast keys ending with Enter go to the open pick or serial field. */
import { say } from "./say.js";

/** A scanner types faster than this on average, and never pauses so long [ms]; nobody types like that. */
const FAST_MS = 50, PAUSE_MS = 150, FEWEST = 4;
/** What comes in: its keys, when the first and the last came, and what stood in the field before. */
const burst = { text: "", first_ms: 0, last_ms: 0, field: /** @type {HTMLInputElement | null} */ (null), before: "" };

/**
 * Takes a key into a burst; gives the code once a fast burst ends with Enter, else null.
 * @param {{text: string, first_ms: number, last_ms: number}} held @param {string} key @param {number} now_ms
 */
export function afterScanKey(held, key, now_ms) {
  if (now_ms - held.last_ms > PAUSE_MS || !held.text) { held.text = ""; held.first_ms = now_ms; }
  held.last_ms = now_ms;
  if (key !== "Enter") { held.text += key.length === 1 ? key : ""; return null; }
  const { text } = held, fast = now_ms - held.first_ms <= FAST_MS * text.length;
  held.text = "";
  return fast && text.length >= FEWEST ? text : null;
}

/** @param {Document} page @param {string} words */
function tell(page, words) {
  const bar = page.querySelector("[data-scan-said]");
  if (bar instanceof HTMLElement) { bar.hidden = !words; bar.textContent = words; }
}

/** Picks what was scanned where the page asks for it. @param {Document} page @param {string} id @param {string} label */
function pick(page, id, label) {
  const options = /** @type {HTMLOptionElement[]} */ ([...page.querySelectorAll(`form[data-entry] select[name=value] option[value="${CSS.escape(id)}"]`)]);
  const here = page.activeElement?.closest("form[data-entry]");
  const option = options.find((each) => here?.contains(each)) ?? options.find((each) => each.closest(".card-next")) ?? options[0];
  const select = option?.closest("select"), form = select?.form;
  if (!option || !select || !form) { tell(page, say("{label} is not asked for on this page.", { label })); return; }
  if (option.disabled) { tell(page, say("{label}: it cannot be used.", { label: option.text.trim() })); return; }
  select.value = id;
  tell(page, "");
  form.requestSubmit();
}

/** @param {Document} page @param {string} code */
async function take(page, code) {
  const here = page.activeElement, work = page.querySelector("[data-scanned]");
  const serial = here instanceof HTMLTextAreaElement && here.dataset.serial !== undefined ? here : null;
  const open = /** @type {HTMLTextAreaElement | null} */ (page.querySelector(".card-next textarea[data-serial]"));
  const field = serial ?? (here?.closest(".card-next") || here === page.body ? open : null);
  if (field) {
    field.value = code;
    field.dispatchEvent(new Event("input", { bubbles: true }));
    field.focus({ preventScroll: true });
    return;
  }
  if (!(work instanceof HTMLElement)) return;
  const response = await fetch(`${work.dataset.scanned}?${new URLSearchParams({ code })}`);
  const { id, text } = await response.json();
  if (id) pick(page, id, text);
  else tell(page, text);
}

/** @param {Document} page */
export function watchScans(page) {
  if (!page.querySelector("[data-scanned]")) return;
  page.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || (event.key.length > 1 && event.key !== "Enter")) return;
    const target = event.target;
    if (target instanceof HTMLInputElement && target.type === "password") return;
    const field = target instanceof HTMLInputElement || target instanceof HTMLTextAreaElement ? target : null;
    if (event.key !== "Enter" && (event.timeStamp - burst.last_ms > PAUSE_MS || !burst.text)) {
      burst.field = /** @type {HTMLInputElement | null} */ (field);
      burst.before = field?.value ?? "";
    }
    const code = afterScanKey(burst, event.key, event.timeStamp);
    if (code === null) return;
    // The code belongs to no other field, and its Enter sends nothing.
    event.preventDefault();
    event.stopImmediatePropagation();
    if (burst.field) {
      burst.field.value = burst.before;
      burst.field.dispatchEvent(new Event("input", { bubbles: true }));
    }
    take(page, code).catch(() => tell(page, say("“{code}” was read, but the server did not answer. Pick it by hand.", { code })));
  }, { capture: true });
}
