// @ts-check
/** Keeps what was typed and not sent, and what was unfolded, while a step's page is refreshed. */

const NAMES = ["kind", "item", "qualifier", "step", "hold", "round", "target", "digest"];

/** Names a form by what it is for. @param {Record<string, string | undefined>} data */
export function formName(data) {
  return NAMES.map((name) => data[name] ?? "").join("|");
}

/** Names a field of a form. @param {{name: string, dataset: Record<string, string | undefined>}} field */
export function fieldName({ name, dataset }) {
  if (dataset.part) return `part ${dataset.part}`;
  if (dataset.cell) return `cell ${dataset.place} ${dataset.cell}`;
  if (dataset.field) return `field ${dataset.field}`;
  return dataset.row ? `row ${dataset.row}` : name;
}

/**
 * Tells whether a field holds something that the page did not put there itself; a hidden field says in `data-kept` what that was.
 * @param {{type: string, value: string, dataset?: Record<string, string | undefined>, defaultValue?: string, options?: ArrayLike<{value: string, defaultSelected: boolean}>}} field
 */
export function isTyped(field) {
  if (field.type === "password" || field.type === "file") return false;
  if (field.type === "hidden") return field.dataset?.kept !== undefined && field.value !== field.dataset.kept;
  if (!field.options) return field.value !== (field.defaultValue ?? "");
  const chosen = Array.from(field.options).find((option) => option.defaultSelected);
  return field.value !== (chosen ?? field.options[0])?.value;
}

/** @param {ParentNode} root */
function forms(root) {
  return /** @type {HTMLFormElement[]} */ ([...root.querySelectorAll("form[data-entry]")]);
}

/** @param {HTMLFormElement} form */
function fields(form) {
  return /** @type {HTMLInputElement[]} */ ([...form.querySelectorAll("input, select, textarea")]);
}

/** @param {Element} fold */
function foldName(fold) {
  const words = fold.querySelector("summary")?.textContent ?? "";
  return `${fold.closest("[id]")?.id}|${words.replace(/\s+/g, " ").trim()}`;
}

/** Gathers what stands in the forms, save the one that was sent. @param {ParentNode} root @param {HTMLFormElement | null} sent */
export function gather(root, sent) {
  /** @type {Map<string, Map<string, string>>} */
  const typed = new Map();
  for (const form of forms(root)) {
    if (form === sent) continue;
    const held = new Map(fields(form).filter(isTyped).map((field) => [fieldName(field), field.value]));
    const pressed = form.querySelector('[data-prefix][aria-pressed="true"]');
    if (held.size && pressed instanceof HTMLElement) held.set("prefix", pressed.dataset.prefix ?? "");
    if (held.size) typed.set(formName(form.dataset), held);
  }
  const open = [...root.querySelectorAll("details[open]")].filter((fold) => !sent || !fold.contains(sent));
  return { typed, open: new Set(open.map(foldName)) };
}

/** Names the field in which somebody types now. @param {Element | null} field */
export function typingIn(field) {
  const form = field?.closest("form[data-entry]");
  if (!(form instanceof HTMLFormElement) || !(field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement)) return null;
  return { form: formName(form.dataset), field: fieldName(field), at: field.selectionStart };
}

/** Goes on typing where somebody typed. @param {ParentNode} root @param {ReturnType<typeof typingIn>} typing */
export function typeOn(root, typing) {
  const form = typing && forms(root).find((each) => formName(each.dataset) === typing.form);
  const field = form && fields(form).find((each) => fieldName(each) === typing.field);
  if (!typing || !field) return false;
  field.focus({ preventScroll: true });
  if (typing.at !== null) field.setSelectionRange(typing.at, typing.at);
  return true;
}

/** Puts back what was gathered. @param {ParentNode} root @param {ReturnType<typeof gather>} kept */
export function putBack(root, { typed, open }) {
  for (const form of forms(root)) {
    const held = typed.get(formName(form.dataset));
    if (!held) continue;
    for (const field of fields(form)) field.value = held.get(fieldName(field)) ?? field.value;
    const prefix = held.get("prefix");
    const buttons = /** @type {NodeListOf<HTMLElement>} */ (form.querySelectorAll("[data-prefix]"));
    for (const each of buttons) each.setAttribute("aria-pressed", String(each.dataset.prefix === prefix));
  }
  for (const fold of root.querySelectorAll("details")) if (open.has(foldName(fold))) fold.open = true;
}
