// @ts-check
/** Says when a newer version is there; it takes over only when nothing waits and nothing is typed. */
import { gather } from "./keep.js";
import { markOf } from "./mark.js";
import { queuedOf } from "./outbox.js";
import { say } from "./say.js";

const LOOK_MS = 10_000, PATIENCE_MS = 3000, ASK_MS = 3_600_000;
/** Which release the server has, where that is not the page's. */
let newer = "";
/** @type {ServiceWorkerRegistration | null} */
let registered = null;

/** Whether the newer version may be loaded now. @param {number} waiting entries on this tablet @param {number} typed forms with something typed */
export function mayUpdate(waiting, typed) {
  return waiting === 0 && typed === 0;
}

/** Hears which release the server has. @param {Document} page @param {string | undefined} release */
export function heardRelease(page, release) {
  const mine = /** @type {any} */ (markOf(page))?.release;
  if (!release || !mine || release === mine) return;
  newer = release;
  registered?.update().catch(() => undefined);
}

/** @param {Document} page */
async function free(page) {
  return mayUpdate((await queuedOf()).length, gather(page, null).typed.size);
}

/** @param {Document} page @param {Window} view */
async function takeOver(page, view) {
  const load = async () => {
    // It is offered again where something was typed meanwhile.
    if (await free(page)) return view.location.reload();
    newer ||= "taken";
    return show(page, view);
  };
  const next = registered?.waiting;
  if (!next || !(await free(page))) return load();
  // The one before goes only when nothing it was asked is open; a page does not wait for that.
  view.navigator.serviceWorker.addEventListener("controllerchange", () => { load().catch(() => undefined); }, { once: true });
  view.setTimeout(() => { load().catch(() => undefined); }, PATIENCE_MS);
  return next.postMessage("take over");
}

/** @param {Document} page @param {Window} view */
async function show(page, view) {
  const unhindered = await free(page);
  // A worker that begins waits for a moment as well: it is newer only where another answers by now.
  const offered = unhindered && Boolean((registered?.waiting && view.navigator.serviceWorker.controller) || newer);
  let line = page.querySelector("[data-update]");
  if (!offered) { line?.remove(); return; }
  if (line) return;
  line = page.createElement("div");
  line.setAttribute("data-update", "");
  line.setAttribute("role", "status");
  line.className = "update-line";
  const button = page.createElement("button");
  button.type = "button";
  button.className = "button-outline";
  button.textContent = say("Load it");
  button.addEventListener("click", () => { takeOver(page, view).catch(() => undefined); });
  line.append(`${say("A new version is ready.")} `, button);
  page.getElementById("content")?.prepend(line);
}

/** @param {Document} page @param {Window} view @param {ServiceWorkerRegistration} found */
export function watchUpdates(page, view, found) {
  registered = found;
  const look = () => { show(page, view).catch(() => undefined); };
  found.addEventListener("updatefound", () => found.installing?.addEventListener("statechange", look));
  page.addEventListener("coldbus:queue", look);
  page.addEventListener("input", look);
  view.setInterval(look, LOOK_MS);
  view.setInterval(() => { found.update().catch(() => undefined); }, ASK_MS);
  look();
}
