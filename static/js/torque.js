// @ts-check
/** Tightening bolt by bolt: another bolt than the next one may be chosen; Enter goes on by row. */

/** Puts a bolt into the form as the one that is entered. @param {HTMLFormElement} form @param {string} name */
function choose(form, name) {
  const hidden = form.querySelector("[data-bolt-chosen]"), word = form.querySelector("[data-bolt-name]");
  if (hidden instanceof HTMLInputElement) hidden.value = name;
  if (word) word.textContent = name;
  form.querySelector("[data-bolt-turn]")?.remove();
  const field = form.querySelector("input[name=value]");
  if (field instanceof HTMLInputElement) field.focus();
}

/** Says again which bolt is entered, after the page was loaded anew. @param {ParentNode} root */
export function showBolts(root) {
  for (const hidden of root.querySelectorAll("[data-bolt-chosen]")) {
    const form = hidden.closest("form"), word = form?.querySelector("[data-bolt-name]");
    if (!form || !word || !(hidden instanceof HTMLInputElement) || hidden.value === hidden.dataset.kept) continue;
    word.textContent = hidden.value;
    form.querySelector("[data-bolt-turn]")?.remove();
  }
}

/** The field of the next row of a table; null at its end. @param {HTMLElement} field */
function nextRow(field) {
  const rows = [...(field.closest("form")?.querySelectorAll("input[data-row]") ?? [])];
  const after = rows[rows.indexOf(field) + 1];
  return after instanceof HTMLInputElement ? after : null;
}

/** @param {Document} page */
export function watchRows(page) {
  page.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? event.target.closest("[data-bolt]") : null;
    const form = button?.closest("form");
    if (button instanceof HTMLElement && form) choose(form, button.dataset.bolt ?? "");
  });
  page.addEventListener("keydown", (event) => {
    const field = event.target;
    if (event.key !== "Enter" || !(field instanceof HTMLInputElement) || !field.dataset.row) return;
    const after = nextRow(field);
    if (!after) return;
    event.preventDefault();
    after.focus();
    after.select();
  });
}
