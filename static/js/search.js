// @ts-check
/** Takes along what was typed into the search when somebody goes on before it was answered. */

/** The address with what is typed now. @param {string} href @param {string} typed */
export function withSearch(href, typed) {
  const [path, query = ""] = href.split("?");
  const asked = new URLSearchParams(query);
  if (typed.trim()) asked.set("q", typed.trim());
  else asked.delete("q");
  return `${path}?${asked}`;
}

/** What was typed before the page's scripts were there is searched for once they are. @param {Document} page */
export function catchUp(page) {
  for (const box of page.querySelectorAll('form[hx-get] input[name="q"]')) {
    if (box instanceof HTMLInputElement && box.value !== box.defaultValue) box.dispatchEvent(new Event("change", { bubbles: true }));
  }
}

/** @param {Document} page */
export function watchSearch(page) {
  page.defaultView?.addEventListener("load", () => catchUp(page));
  page.addEventListener("click", (event) => {
    const link = event.target instanceof Element ? event.target.closest("a[data-takes-search]") : null;
    const box = page.querySelector('input[name="q"]');
    if (!link || !(box instanceof HTMLInputElement)) return;
    link.setAttribute("href", withSearch(link.getAttribute("href") ?? "", box.value));
  });
}
