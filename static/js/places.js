// @ts-check
/** Goes to a place on the page: unfolds it, brings it clear of the band, puts the focus there. */

const CONTROL = "input:not([type=hidden]), select, textarea, button[type=submit]";

/** @param {Element} place */
function unfold(place) {
  for (let fold = place.closest("details"); fold; fold = fold.parentElement?.closest("details") ?? null) fold.open = true;
  const own = place.querySelector(":scope > details.fold");
  if (own instanceof HTMLDetailsElement) own.open = true;
}

/** Shows a place and puts the focus into it. @param {Element | null} place */
export function goTo(place) {
  if (!(place instanceof HTMLElement)) return;
  unfold(place);
  const control = place.querySelector(`:scope > .entry :is(${CONTROL}), :scope > .fold .entry :is(${CONTROL})`);
  const aim = control instanceof HTMLElement ? control : place;
  aim.focus({ preventScroll: true });
  place.scrollIntoView({ block: "nearest" });
}

/** The place a link on this page leads to. @param {Document} page @param {string} hash */
function placeOf(page, hash) {
  return hash.length > 1 ? page.getElementById(decodeURIComponent(hash.slice(1))) : null;
}

/** Opens or closes what the bar at the bottom covers. @param {Document} page @param {boolean} open */
function show(page, open) {
  page.getElementById("step")?.classList.toggle("panel-open", open);
  page.querySelector("[data-opens]")?.setAttribute("aria-expanded", String(open));
}

/** @param {Document} page @param {Window} view */
export function watchPlaces(page, view) {
  page.addEventListener("click", (event) => {
    const target = event.target instanceof Element ? event.target : null;
    const opener = target?.closest("[data-opens]");
    if (opener) show(page, opener.getAttribute("aria-expanded") !== "true");
    const link = target?.closest('a[href^="#"]');
    const place = link && !link.matches(".skip") ? placeOf(page, link.getAttribute("href") ?? "") : null;
    if (!place) return;
    event.preventDefault();
    show(page, false);
    goTo(place);
  });
  page.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    show(page, false);
  });
  const named = placeOf(page, view.location.hash);
  if (named) goTo(named);
}

/** Tells the style sheet how high the band is, so that it covers nothing, and shows the step in its strip. @param {Document} page */
export function settle(page) {
  const here = page.querySelector(".steps [aria-current]"), strip = here?.closest("ol");
  if (here instanceof HTMLElement && strip) strip.scrollLeft = here.offsetLeft - (strip.clientWidth - here.offsetWidth) / 2;
  const band = page.querySelector(".hv");
  if (band) page.documentElement.style.setProperty("--band", `${Math.ceil(band.getBoundingClientRect().height)}px`);
}
