// @ts-check
/** Says in the bar whether the workshop's server answers. */

/** @param {Document} page @param {boolean} connected */
export function showConnection(page, connected) {
  const sign = page.querySelector("[data-connected]");
  if (!(sign instanceof HTMLElement)) return;
  sign.dataset.on ??= sign.textContent ?? "";
  sign.textContent = connected ? sign.dataset.on : (sign.dataset.off ?? "");
  sign.classList.toggle("bar-off", !connected);
}

/** @param {Document} page @param {Window} view */
export function watchConnection(page, view) {
  view.addEventListener("online", () => showConnection(page, true));
  view.addEventListener("offline", () => showConnection(page, false));
}
