// @ts-check
/** The page on which a tablet begins: what this tablet can do, and that nothing waiting is left behind. */
import { all } from "./outbox_store.js";

/** What a tablet can do here. @param {Window} view @returns {Promise<Record<string, boolean>>} */
export async function abilities(view) {
  const { navigator } = view;
  return {
    secure: view.isSecureContext && Boolean(view.crypto?.subtle),
    store: await all("queue").then(() => true, () => false),
    worker: Boolean(navigator.serviceWorker) && await navigator.serviceWorker.register("/sw.js").then(() => true, () => false),
    kept: Boolean(navigator.storage?.persist) && await navigator.storage.persist().catch(() => false),
  };
}

/** @param {HTMLElement} list @param {Record<string, boolean>} found */
function show(list, found) {
  const said = list.dataset;
  list.replaceChildren(...Object.entries(found).map(([name, able]) => {
    const line = document.createElement("li");
    line.className = able ? "start-yes" : "start-no";
    line.dataset.ability = name;
    line.textContent = `${able ? "✓" : "–"} ${said[name]}: ${able ? said.yes : said.no}`;
    return line;
  }));
}

/** @param {Document} page @param {Window} view */
export function watchStart(page, view) {
  const root = page.querySelector("[data-start]");
  if (!(root instanceof HTMLElement)) return;
  root.addEventListener("click", async (event) => {
    const pressed = event.target instanceof Element ? event.target.closest("[data-start-test], [data-leave]") : null;
    if (!(pressed instanceof HTMLElement)) return;
    if (pressed instanceof HTMLAnchorElement) {
      event.preventDefault();
      const left = await all("queue").catch(() => []);
      if (!left.length) { view.location.assign(pressed.href); return; }
    }
    const list = root.querySelector("[data-start-results]");
    if (!(list instanceof HTMLElement)) return;
    if (pressed instanceof HTMLAnchorElement) list.textContent = root.dataset.queueHeld ?? "";
    else show(list, await abilities(view));
  });
}

watchStart(document, window);
