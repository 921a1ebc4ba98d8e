// @ts-check
/** Sends what a card's form holds to the one door and shows the answer beside the item. */
import { deliver, deliverPhoto } from "./deliver.js";
import { answered, words } from "./door.js";
import { draftOf } from "./draft.js";
import { pressedPrefix } from "./look.js";
import { withPrefix } from "./number.js";
import { changed } from "./outbox.js";
import { paperOn } from "./paper.js";
import { openReading } from "./proposals.js";
import { faultyCell } from "./quotation.js";
import { refresh } from "./refresh.js";
import { say } from "./say.js";
import { forgetDraft } from "./series.js";
import { sendWithStrikes } from "./strikes.js";
import { askAgain } from "./unlock.js";

/** @param {HTMLFormElement} form @param {HTMLElement | null} button */
function asked(form, button) {
  /** @type {Record<string, string>} */
  const fields = {}, parts = {}, rows = {};
  for (const field of form.querySelectorAll("input, select, textarea")) {
    const { dataset, name, value } = /** @type {HTMLInputElement} */ (field);
    if (dataset.part) parts[dataset.part] = value;
    else if (dataset.row) rows[dataset.row] = value;
    else if (name) fields[name] = name === "value" && dataset.unit !== undefined ? withPrefix(value, dataset.unit, pressedPrefix(form)) : value;
  }
  if (button instanceof HTMLButtonElement && button.name) fields[button.name] = button.value;
  const data = /** @type {Record<string, string>} */ ({ ...form.dataset });
  return { entry: data.entry, kind: data.kind, data, fields, parts, rows };
}

/** Says something beside a form and marks the field it is about. @param {HTMLFormElement} form @param {string} text @param {HTMLElement | null} [faulty] */
function tell(form, text, faulty) {
  const answer = form.querySelector(".answer");
  if (answer) answer.textContent = text;
  for (const each of form.querySelectorAll("[aria-invalid]")) each.removeAttribute("aria-invalid");
  if (!faulty) return;
  faulty.setAttribute("aria-invalid", "true");
  faulty.focus();
  if (faulty instanceof HTMLInputElement) faulty.select();
}

/** @param {HTMLFormElement} form */
function emptyField(form) {
  const fields = /** @type {HTMLInputElement[]} */ ([...form.querySelectorAll("[required]")]);
  return fields.find((field) => !field.value.trim());
}

/** The picture that was chosen. @param {HTMLFormElement} form */
function pictureOf(form) {
  const input = form.querySelector('input[type="file"]');
  const file = input instanceof HTMLInputElement ? input.files?.[0] : undefined;
  if (!file) throw new Error(say("Choose a picture first."));
  return file;
}

/** It is on the tablet's disk: the form is free again. @param {HTMLFormElement} form */
function free(form) {
  answered(form);
  forgetDraft(form);
  form.reset();
  for (const field of form.querySelectorAll("input[type=hidden]")) {
    const each = /** @type {HTMLInputElement} */ (field);
    if (each.dataset.kept !== undefined) each.value = each.dataset.kept;
    if (each.name === "comparator") each.value = "";
  }
  for (const each of form.querySelectorAll("[data-compare]")) each.setAttribute("aria-pressed", "false");
}

/** @param {HTMLFormElement} form @param {HTMLElement | null} button */
async function send(form, button) {
  const work = document.querySelector("[data-entries]");
  if (!(work instanceof HTMLElement)) return;
  const empty = emptyField(form);
  if (empty) {
    tell(form, empty.type === "password" ? say("Type the PIN.") : say("This is still empty."), empty);
    return;
  }
  const gathered = asked(form, button);
  const made = draftOf(gathered), sheet = made.kind === "value" ? paperOn(document) : null;
  const draft = sheet ? { ...made, paper: sheet } : made;
  let answer;
  if (form.dataset.targets) answer = await sendWithStrikes(form, button, gathered.fields.reason ?? "", draft.kind === "strikes" ? null : draft, work);
  else if (gathered.entry === "photo") [answer] = await deliverPhoto(form, pictureOf(form), draft, work);
  else [answer] = await deliver(form, button, [draft], [form], work);
  if (answer.verdict === "applied") {
    answered(form);
    forgetDraft(form);
    const { repeat, repeatAt } = form.dataset;
    await refresh(form);
    if (repeatAt !== undefined) openReading(document, repeatAt, repeat ?? "");
    return;
  }
  if (answer.verdict === "kept") { free(form); return; }
  if (answer.verdict === "disputed") {
    free(form);
    await refresh(form);
    return;
  }
  if (answer.verdict === "refused") answered(form);
  tell(form, words(answer), faultyCell(form, answer) ?? form.querySelector(answer.verdict === "pin" ? "input[name=pin]" : "[name=value]:not(button), .pad [name=name]"));
  if (answer.verdict === "auth" && !answer.shut_out) askAgain(form, button);
}

/** @param {Document} page */
export function watchEntries(page) {
  page.addEventListener("submit", (event) => {
    const form = event.target;
    if (!(form instanceof HTMLFormElement) || !form.matches("[data-entry]")) return;
    event.preventDefault();
    if (form.dataset.busy) return;
    form.dataset.busy = "1";
    tell(form, "");
    const button = event instanceof SubmitEvent ? event.submitter : null;
    send(form, button).catch((fault) => tell(form, String(fault.message ?? fault))).finally(() => {
      delete form.dataset.busy;
      changed(false);
    });
  });
}
