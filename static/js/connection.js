// @ts-check
/** Knows whether the workshop's server answers, says so in the bar, and tells whoever listens. */

/** Whether the server answered last; a page that has just come from it is connected. @param {Document} page */
export function isConnected(page) {
  return page.documentElement.dataset.connected !== "no";
}

/** @param {Document} page @param {boolean} connected */
export function showConnection(page, connected) {
  const now = connected ? "yes" : "no", root = page.documentElement, before = root.dataset.connected;
  root.dataset.connected = now;
  for (const sign of page.querySelectorAll("[data-connected][data-off]")) {
    if (!(sign instanceof HTMLElement)) continue;
    sign.dataset.on ??= sign.textContent ?? "";
    sign.textContent = connected ? sign.dataset.on : (sign.dataset.off ?? "");
    sign.classList.toggle("bar-off", !connected);
  }
  if (before !== now) page.dispatchEvent(new CustomEvent("coldbus:connection", { detail: { connected } }));
}

/** @param {Document} page @param {Window} view */
export function watchConnection(page, view) {
  // A copy that the tablet kept says nothing about the server.
  showConnection(page, view.navigator.onLine && !page.documentElement.dataset.keptAt);
  view.addEventListener("offline", () => showConnection(page, false));
}
