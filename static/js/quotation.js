// @ts-check
/** The editor of a quotation: rows to add, move and remove; what it holds stands in one JSON text. */
import { netOf, plain, shown, sumsOf } from "./money.js";

/** @typedef {{kind: string, text: string, quantity: string, unit: string, unit_price: string, tax_percent: string, payer: string, optional: string}} Line */

/** @param {ParentNode} root @param {string} selector */
function all(root, selector) {
  return /** @type {HTMLInputElement[]} */ ([...root.querySelectorAll(selector)]);
}

/** @param {HTMLElement} row @returns {Line} */
function lineOf(row) {
  return /** @type {Line} */ (Object.fromEntries(all(row, "[data-cell]").map((cell) => [cell.dataset.cell ?? "", cell.value])));
}

/** @param {HTMLElement} editor */
function rowsOf(editor) {
  return /** @type {HTMLElement[]} */ ([...editor.querySelectorAll("[data-rows] > *")]);
}

/** @param {HTMLElement} editor @param {Partial<Line>} line */
function addRow(editor, line) {
  const template = editor.querySelector("template[data-row]"), rows = editor.querySelector("[data-rows]");
  if (!(template instanceof HTMLTemplateElement) || !rows) return null;
  rows.append(template.content.cloneNode(true));
  const row = /** @type {HTMLElement} */ (rows.lastElementChild);
  const filled = { tax_percent: editor.dataset.tax ?? "", ...line };
  for (const cell of all(row, "[data-cell]")) {
    const value = filled[/** @type {keyof Line} */ (cell.dataset.cell)];
    if (value !== undefined) cell.value = value;
  }
  return row;
}

/** Shows the sums and writes what will be sent. @param {HTMLElement} editor */
function update(editor) {
  const rows = rowsOf(editor), lines = rows.map(lineOf), currency = editor.dataset.currency ?? "";
  rows.forEach((row, index) => {
    const net = netOf(lines[index]), out = row.querySelector("[data-net]"), number = row.querySelector("[data-number]");
    if (out) out.textContent = net === null ? "–" : shown(net, currency);
    if (number) number.textContent = String(index + 1);
    for (const cell of all(row, "[data-cell]")) cell.dataset.place = String(index + 1);
    for (const button of all(row, '[data-quote="up"]')) button.disabled = index === 0;
    for (const button of all(row, '[data-quote="down"]')) button.disabled = index === rows.length - 1;
  });
  const sums = lines.length ? sumsOf(lines) : null;
  for (const out of all(editor, "[data-sum]")) {
    const name = /** @type {"net" | "tax" | "total"} */ (out.dataset.sum);
    out.textContent = sums ? shown(sums[name], currency) : "–";
  }
  const fields = Object.fromEntries(all(editor, "[data-field]").map((field) => [field.dataset.field, field.value]));
  const text = editor.querySelector("textarea[name=value]");
  if (text instanceof HTMLTextAreaElement) {
    text.value = JSON.stringify({ lines, ...fields, currency, total: sums ? plain(sums.total) : "" });
  }
}

/** Builds the rows from what each editor holds. @param {ParentNode} root */
export function openQuotations(root) {
  for (const editor of /** @type {NodeListOf<HTMLElement>} */ (root.querySelectorAll("[data-quotation]"))) {
    const text = editor.querySelector("textarea[name=value]");
    const held = JSON.parse(text instanceof HTMLTextAreaElement ? text.value : "{}");
    editor.querySelector("[data-rows]")?.replaceChildren();
    for (const line of held.lines ?? []) addRow(editor, line);
    for (const field of all(editor, "[data-field]")) field.value = held[field.dataset.field ?? ""] ?? "";
    const typed = text instanceof HTMLTextAreaElement && text.value !== text.defaultValue;
    update(editor);
    // What the page itself put there is not something typed that has to be kept.
    if (text instanceof HTMLTextAreaElement && !typed) text.defaultValue = text.value;
  }
}

/** The cell that a refusal is about. @param {ParentNode} form @param {any} answer */
export function faultyCell(form, answer) {
  const [reason] = answer.reasons ?? [];
  const row = form.querySelectorAll("[data-rows] > *")[Number(reason?.params?.line ?? 0) - 1];
  const name = String(reason?.code ?? "").replace("quotation_", "").replace(/^price$/, "unit_price").replace(/^tax$/, "tax_percent").replace(/^discount$/, "unit_price");
  const cell = row?.querySelector(`[data-cell="${CSS.escape(name)}"]`) ?? row?.querySelector('[data-cell="quantity"]');
  return cell instanceof HTMLElement ? cell : null;
}

/** @param {HTMLElement} editor @param {HTMLElement} button */
function act(editor, button) {
  const row = /** @type {HTMLElement | null} */ (button.closest("[data-rows] > *"));
  let aim = /** @type {HTMLElement | null} */ (button);
  if (button.dataset.quote === "add") aim = addRow(editor, {})?.querySelector("select, input") ?? null;
  if (button.dataset.quote === "suggest") {
    for (const line of JSON.parse(editor.dataset.suggested ?? "[]")) addRow(editor, line);
    aim = editor.querySelector('[data-cell="unit_price"]');
  }
  if (button.dataset.quote === "up") row?.previousElementSibling?.before(row);
  if (button.dataset.quote === "down") row?.nextElementSibling?.after(row);
  if (button.dataset.quote === "remove") {
    const near = row?.nextElementSibling ?? row?.previousElementSibling;
    aim = near?.querySelector('[data-quote="remove"]') ?? editor.querySelector('[data-quote="add"]');
    row?.remove();
  }
  update(editor);
  if (aim instanceof HTMLButtonElement && aim.disabled) aim = row?.querySelector("[data-quote]:not(:disabled)") ?? null;
  aim?.focus();
}

/** @param {Document} page */
export function watchQuotations(page) {
  const editorOf = (/** @type {EventTarget | null} */ target) => {
    const editor = target instanceof Element ? target.closest("[data-quotation]") : null;
    return editor instanceof HTMLElement ? editor : null;
  };
  page.addEventListener("input", (event) => {
    const editor = editorOf(event.target);
    if (editor) update(editor);
  });
  page.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? event.target.closest("[data-quote]") : null;
    const editor = editorOf(button);
    if (editor && button instanceof HTMLElement) act(editor, button);
  });
  page.addEventListener("keydown", (event) => {
    const editor = editorOf(event.target), cell = event.target;
    if (event.key !== "Enter" || !editor || !(cell instanceof HTMLInputElement)) return;
    event.preventDefault();
    const cells = all(editor, "[data-cell]"), next = cells[cells.indexOf(cell) + 1];
    if (next) next.focus();
    else if (cell.dataset.cell) act(editor, all(editor, '[data-quote="add"]')[0]);
  });
}
