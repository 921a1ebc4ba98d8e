// @ts-check
/** Refreshes the step after an entry: what else was typed, the scroll and the focus stay sensible. */
import { gather, putBack, typeOn, typingIn } from "./keep.js";
import { redrawPads } from "./pad.js";
import { goTo, settle } from "./places.js";
import { openReading, presetReadings } from "./proposals.js";
import { openQuotations } from "./quotation.js";
import { showBolts } from "./torque.js";

/** Goes on to what is next; a proposed reading is opened as it is proposed. @param {Element} step @param {Element | null} place */
function goNext(step, place) {
  const link = step.querySelector(".panel .suspect-first") ?? step.querySelector(".next a") ?? step.querySelector(".panel .proposed-best");
  const href = link?.getAttribute("href") ?? "", proposed = link?.getAttribute("data-proposed");
  if (proposed) openReading(document, decodeURIComponent(href.slice(1)), proposed);
  else goTo(href.startsWith("#") ? document.getElementById(decodeURIComponent(href.slice(1))) : (link ?? place));
}

/**
 * Whether the focus goes on to what is next: only from what was next itself, or from an act.
 * @param {Element | null} place
 */
export function movesOn(place) {
  return place !== null && place.matches(".card-next, .hold, .sign");
}

/** Keeps a place where it was on the screen, whatever grew or folded above it. @param {Element | null} place @param {number} held */
function hold(place, held) {
  const seen = place?.checkVisibility() ? place : place?.closest(".group");
  if (seen) window.scrollBy({ top: seen.getBoundingClientRect().top - held, behavior: "instant" });
}

/** Loads the step anew: after an entry, or because somebody else went on. @param {HTMLFormElement | null} sent */
export async function refresh(sent) {
  const step = document.getElementById("step");
  if (!step) return;
  const at = sent ?? (step.contains(document.activeElement) ? document.activeElement : null);
  const place = at?.closest("[id]:not(#step)") ?? null, going = sent !== null && movesOn(place);
  const kept = gather(step, sent), typing = sent ? null : typingIn(document.activeElement);
  const panel = step.querySelector(".panel")?.scrollTop ?? 0;
  const left = window.scrollX, top = window.scrollY, held = place?.getBoundingClientRect().top ?? 0;
  // @ts-ignore htmx comes from its own script
  await htmx.ajax("GET", location.pathname + location.search, { target: "#step", select: "#step", swap: "outerHTML" });
  const fresh = document.getElementById("step");
  if (!fresh) return;
  putBack(fresh, kept);
  openQuotations(fresh);
  redrawPads(fresh);
  showBolts(fresh);
  settle(document);
  fresh.querySelector(".panel")?.scrollTo(0, panel);
  window.scrollTo({ left, top, behavior: "instant" });
  const same = place ? document.getElementById(place.id) : null;
  presetReadings(fresh);
  if (!going) hold(same, held);
  if (typeOn(fresh, typing)) return;
  if (going) goNext(fresh, same);
  else if (same instanceof HTMLElement) same.focus({ preventScroll: true });
}
