// @ts-check
/** The printed sheet: prints it, and says of each entry typed in from one which sheet it was. */

/**
 * What an entry says of the sheet it stood on; null where the page is not in that mode.
 * @param {{sheet: string, written: string, by: string, offset: string} | null} given
 */
export function sheetOf(given) {
  if (!given) return null;
  return { sheet: given.sheet.trim(), written_at: given.written ? `${given.written}:00${given.offset}` : "", by: given.by };
}

/** Reads the bar in which sheet, time and writer are typed. @param {ParentNode} page */
export function paperOn(page) {
  const bar = page.querySelector("[data-paper]");
  if (!(bar instanceof HTMLFormElement)) return null;
  const value = (/** @type {string} */ name) => /** @type {HTMLInputElement} */ (bar.elements.namedItem(name)).value;
  return sheetOf({ sheet: value("sheet"), written: value("written"), by: value("by"), offset: bar.dataset.paper ?? "" });
}

/** @param {Document} page @param {Window} view */
export function watchPrint(page, view) {
  page.addEventListener("click", (event) => {
    if (event.target instanceof Element && event.target.closest("[data-print]")) view.print();
  });
}
