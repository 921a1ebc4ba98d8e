// @ts-check
/** Closes the menu under More when something else is touched, and on Escape. */

/** @param {Document} page */
export function watchMore(page) {
  const menu = page.querySelector("details[data-more]");
  if (!(menu instanceof HTMLDetailsElement)) return;
  page.addEventListener("pointerdown", (event) => {
    if (event.target instanceof Node && !menu.contains(event.target)) menu.open = false;
  });
  menu.addEventListener("focusout", (event) => {
    if (event.relatedTarget instanceof Node && !menu.contains(event.relatedTarget)) menu.open = false;
  });
  page.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !menu.open) return;
    menu.open = false;
    menu.querySelector("summary")?.focus();
  });
}
