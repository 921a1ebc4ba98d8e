// @ts-check
/** Opens the next step for typing while the signature before it waits on this tablet; the server opens nothing by it. */
import { queuedOf } from "./outbox.js";

/**
 * How the signature of a step stands on this tablet: it waits, it was not taken, or there is none.
 * @param {any[]} rows what waits on this tablet @param {string} job @param {string} slug the step signed
 * @returns {"waits" | "held" | "none"}
 */
export function signature(rows, job, slug) {
  const signed = rows.filter(({ entry }) => entry.job === job && entry.kind === "sign" && entry.value?.step === slug);
  const newest = signed[signed.length - 1];
  if (!newest) return "none";
  return newest.state === "waiting" ? "waits" : "held";
}

/** Whether entries of a step wait on this tablet. @param {any[]} rows @param {string} job @param {string} step */
export function typedFor(rows, job, step) {
  return rows.some(({ entry }) => entry.job === job && String(entry.item ?? "").startsWith(`${step}.`));
}

/** @param {Document} page */
async function show(page) {
  const held = page.querySelector("template[data-behind-sign]"), work = page.querySelector("[data-job]");
  if (!(held instanceof HTMLTemplateElement) || !(work instanceof HTMLElement)) return;
  const job = work.dataset.job ?? "", step = page.location.pathname.split("/")[3] ?? "";
  const rows = await queuedOf(), stands = signature(rows, job, held.dataset.behindSign ?? "");
  const there = page.querySelector("[data-behind]"), wanted = stands !== "none" || typedFor(rows, job, step);
  if (!wanted) return;
  const groups = page.querySelector("[data-groups]");
  if (!there) {
    // The same cards stand below as what is asked later: only one of the two is on the page.
    groups?.replaceChildren(held.content.cloneNode(true));
    page.dispatchEvent(new CustomEvent("coldbus:behind"));
  }
  page.querySelector("[data-behind-waits]")?.toggleAttribute("hidden", stands !== "waits");
  page.querySelector("[data-behind-held]")?.toggleAttribute("hidden", stands === "waits");
  page.querySelector("[data-behind]")?.classList.toggle("behind-held", stands !== "waits");
}

/** @param {Document} page */
export function watchBehindSign(page) {
  const look = () => { show(page).catch(() => undefined); };
  for (const name of ["coldbus:queue", "coldbus:connection", "htmx:afterSettle"]) page.addEventListener(name, look);
  look();
}
