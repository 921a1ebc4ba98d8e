// @ts-check
/** A proposed reading that is tapped opens its card: pole, links and shunt chosen, the number ready. */
import { goTo } from "./places.js";

/** The parts of a qualifier by name. @param {string} qualifier */
export function partsOf(qualifier) {
  return Object.fromEntries(qualifier.split(";").filter(Boolean).map((part) => {
    const at = part.indexOf("=");
    return [part.slice(0, at), part.slice(at + 1)];
  }));
}

/** @param {HTMLFormElement} form @param {string} qualifier */
function choose(form, qualifier) {
  for (const [name, value] of Object.entries(partsOf(qualifier))) {
    const box = form.querySelector(`[data-part="${name}"]`);
    if (box instanceof HTMLSelectElement && ![...box.options].some((each) => each.value === value)) {
      box.add(new Option(value.replaceAll("_", " "), value));
    }
    if (box instanceof HTMLSelectElement || box instanceof HTMLInputElement) box.value = value;
  }
}

/** Opens the card that takes a reading. @param {Document} page @param {string} anchor @param {string} qualifier */
export function openReading(page, anchor, qualifier) {
  const card = page.getElementById(anchor), form = card?.querySelector("form[data-kind=value]");
  if (!card || !(form instanceof HTMLFormElement)) { goTo(card); return; }
  choose(form, qualifier);
  goTo(card);
  const number = form.querySelector("input[name=value]");
  if (number instanceof HTMLInputElement) number.focus({ preventScroll: true });
}

/** Sets the card that asks which reading it takes to the one proposed first, unless somebody types there. @param {ParentNode} root */
export function presetReadings(root) {
  for (const link of root.querySelectorAll(".card .proposed-best[data-proposed]")) {
    const form = link.closest(".card")?.querySelector("form[data-kind=value]"), number = form?.querySelector("input[name=value]");
    if (form instanceof HTMLFormElement && number instanceof HTMLInputElement && !number.value) choose(form, link.getAttribute("data-proposed") ?? "");
  }
}

/** @param {Document} page */
export function watchProposals(page) {
  presetReadings(page);
  page.addEventListener("click", (event) => {
    const link = event.target instanceof Element ? event.target.closest("a[data-proposed]") : null;
    if (!(link instanceof HTMLAnchorElement)) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    page.getElementById("step")?.classList.remove("panel-open");
    openReading(page, decodeURIComponent(link.hash.slice(1)), link.dataset.proposed ?? "");
    page.querySelector("input[name=value]:focus")?.dispatchEvent(new MouseEvent("click", { bubbles: true }));
  }, { capture: true });
}
