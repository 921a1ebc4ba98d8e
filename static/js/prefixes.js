// @ts-check
/** The buttons Ω, kΩ and MΩ beside a reading: one is pressed, it multiplies what is typed. */

/** @param {Document} page */
export function watchPrefixes(page) {
  page.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? event.target.closest("[data-prefix]") : null;
    if (!(button instanceof HTMLElement)) return;
    for (const each of button.parentElement?.querySelectorAll("[data-prefix]") ?? []) {
      each.setAttribute("aria-pressed", String(each === button));
    }
  });
}
