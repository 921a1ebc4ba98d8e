// @ts-check
/** One entry that waits, as it is drawn: what, value, time, state, and what can be done about it. */
import { showConnection } from "./connection.js";
import { formName, putBack } from "./keep.js";
import { drop, queuedOf, recordInstead, signAgain } from "./outbox.js";
import { dropPhoto } from "./photo_lane.js";
import { goTo } from "./places.js";
import { clock, stateWords } from "./queue_words.js";
import { refresh } from "./refresh.js";
import { say } from "./say.js";

/** @param {string} name @param {Record<string, string>} set @param {...(Node | string)} inside */
export function made(name, set, ...inside) {
  const element = document.createElement(name);
  for (const [each, value] of Object.entries(set)) element.setAttribute(each, value);
  element.append(...inside);
  return element;
}

/** @param {string} act @param {string} words */
const button = (act, words) => made("button", { type: "button", class: "button-outline", "data-queue-act": act }, words);

/** @param {any} row */
const disputed = (row) => row.state === "refused" && row.answer?.reasons?.some((/** @type {any} */ reason) => reason.code === "recorded_elsewhere");

/** @param {any} row */
function acts(row) {
  if (row.state === "pin") {
    const pin = made("input", { type: "password", name: "pin", inputmode: "numeric", autocomplete: "off", maxlength: "12" });
    return [made("label", {}, row.name ? say("PIN of {name}", { name: row.name }) : say("PIN of whoever signed"), pin), button("sign", say("Sign again")), button("drop", say("Drop"))];
  }
  if (disputed(row)) {
    const reason = made("input", { type: "text", name: "reason", maxlength: "500" });
    return [button("drop", say("Drop mine")), made("label", {}, say("Why is the other one struck?"), reason), button("instead", say("Record mine instead"))];
  }
  if (row.state === "refused") return [...(row.form ? [button("correct", say("Correct"))] : []), button("drop", say("Drop"))];
  return row.state === "conflict" ? [button("drop", say("Drop"))] : [];
}

/** @param {any} row @param {boolean} here whether it stands on its own step's page */
export function drawRow(row, here) {
  const mark = { waiting: "◷", refused: "✕", pin: "✎", conflict: "✕" }[/** @type {"waiting"} */ (row.state)] ?? "";
  const words = [row.label, clock(row.made), stateWords(row)].filter(Boolean).join(", ");
  const what = here ? "" : made("strong", {}, `${row.what || row.item || row.kind} `);
  const drawn = made("div", { class: `queued queued-${row.state}`, "data-queued": row.key }, made("p", { role: "status" }, made("span", { "aria-hidden": "true" }, `${mark} `), what, words));
  if (row.state !== "waiting") drawn.append(made("div", { class: "queued-acts" }, ...acts(row)), made("p", { class: "answer", role: "alert" }));
  return drawn;
}

/** Puts a refused value back in its form. @param {any} row */
async function correct(row) {
  const forms = /** @type {HTMLFormElement[]} */ ([...document.querySelectorAll("#step form[data-entry]")]);
  const form = forms.find((each) => formName(each.dataset) === row.form);
  if (!form) { location.assign(row.page); return; }
  await (row.photo ? dropPhoto(row.key) : drop([row.key]));
  putBack(form.parentElement ?? document, { typed: new Map([[row.form, new Map(row.fields)]]), open: new Set() });
  form.dispatchEvent(new Event("input", { bubbles: true }));
  goTo(form.closest("[id]"));
}

/** @param {HTMLElement} pressed @param {HTMLElement} drawn */
async function act(pressed, drawn) {
  const key = drawn.dataset.queued ?? "", row = (await queuedOf()).find((each) => each.key === key), answer = drawn.querySelector(".answer");
  const typed = (/** @type {string} */ name) => /** @type {HTMLInputElement | null} */ (drawn.querySelector(`input[name=${name}]`));
  const doing = pressed.dataset.queueAct;
  if (doing === "drop" && pressed.dataset.sure !== "yes") {
    pressed.dataset.sure = "yes";
    pressed.textContent = say("Drop it for good");
    if (answer) answer.textContent = say("It was not recorded. Once dropped it is gone from this tablet.");
    return;
  }
  if (doing === "drop") await (row ? drop([key]) : dropPhoto(key));
  if (!row) return;
  if (doing === "correct") await correct(row);
  const field = typed(doing === "sign" ? "pin" : "reason");
  if ((doing === "sign" || doing === "instead") && !field?.value.trim()) {
    if (answer) answer.textContent = doing === "sign" ? say("Type the PIN.") : say("Say why the other one is struck.");
    field?.focus();
    return;
  }
  const words = field?.value ?? "";
  // It is taken: the row may be drawn anew from here on.
  if (field) field.value = "";
  if (doing === "sign") await signAgain(row.entry.person, words);
  if (doing === "instead") await recordInstead(row, words.trim());
  if ((doing === "sign" || doing === "instead" || doing === "drop") && document.documentElement.dataset.connected === "yes") await refresh(null);
}

/** @param {Document} page */
export function watchQueueRows(page) {
  page.addEventListener("click", (event) => {
    const pressed = event.target instanceof Element ? event.target.closest("[data-queue-act]") : null, drawn = pressed?.closest("[data-queued]");
    if (!(pressed instanceof HTMLButtonElement) || !(drawn instanceof HTMLElement)) return;
    pressed.disabled = true;
    act(pressed, drawn).catch(() => showConnection(page, false)).finally(() => { pressed.disabled = false; });
  });
}
