// @ts-check
/** Keeps a list fresh: loads what `[data-renew]` marks every minute, focus and scroll stay where they are. */

const EVERY_MS = 60000;

/**
 * Whether the list may be loaded anew now: it is looked at, and a minute is over.
 * @param {{hidden: boolean}} page @param {number} since_ms
 */
export function isDue(page, since_ms) {
  return !page.hidden && since_ms >= EVERY_MS;
}

/** @param {Document} page @param {Window} view */
async function renew(page, view) {
  const list = page.querySelector("[data-renew]");
  if (!list) return;
  const focused = page.activeElement;
  const place = focused && list.contains(focused) ? focused.id : "";
  const left = view.scrollX, top = view.scrollY;
  // @ts-ignore htmx comes from its own script
  await htmx.ajax("GET", view.location.pathname + view.location.search, {
    target: `#${list.id}`, select: `#${list.id}`, swap: "outerHTML", headers: { "X-By-Itself": "1" },
  });
  if (place) page.getElementById(place)?.focus({ preventScroll: true });
  view.scrollTo({ left, top, behavior: "instant" });
}

/** @param {Document} page @param {Window} view */
export function watchLists(page, view) {
  if (!page.querySelector("[data-renew]")) return;
  let last_ms = Date.now();
  const look = () => {
    if (!isDue(page, Date.now() - last_ms)) return;
    last_ms = Date.now();
    renew(page, view).catch(() => undefined);
  };
  view.setInterval(look, EVERY_MS / 4);
  page.addEventListener("visibilitychange", look);
}
