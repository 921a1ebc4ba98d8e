// @ts-check
/** Keeps copies of this tablet's open jobs, so that their pages open without the network. */
import { isConnected } from "./connection.js";
import { markOf } from "./mark.js";
import { queuedOf } from "./outbox.js";
import { heardRelease, watchUpdates } from "./update.js";

export const PAGES = "coldbus-pages";
const MEMORY = "coldbus-kept", LISTS = ["/", "/jobs/", "/tablet/"];
const LOOK_MS = 5000, SETTLED_MS = 30_000, EVERY_MS = 600_000, MOST_JOBS = 8;

/**
 * @typedef {{head: string, changed_ms: number, kept_ms: number, opened_ms: number}} Known what is known of a job's copies
 * @typedef {{person: string, jobs: Record<string, Known>}} Memory
 */

/** Whether a job's copies are asked anew: never kept, quiet for a while after an entry, or old. @param {Known} job @param {number} now_ms */
export function isDue(job, now_ms) {
  if (!job.kept_ms) return true;
  if (job.changed_ms > job.kept_ms) return now_ms - job.changed_ms >= SETTLED_MS;
  return now_ms - job.kept_ms >= EVERY_MS;
}

/** Notes that a job's page is open, with where its record ends. @param {Memory} memory @param {string} id @param {string} head @param {number} now_ms @returns {Memory} */
export function opened(memory, id, head, now_ms) {
  const before = memory.jobs[id] ?? { head, changed_ms: now_ms, kept_ms: 0, opened_ms: now_ms };
  const changed_ms = before.head === head ? before.changed_ms : now_ms;
  const jobs = { ...memory.jobs, [id]: { ...before, head, changed_ms, opened_ms: now_ms } };
  const newest = Object.entries(jobs).sort(([, one], [, other]) => other.opened_ms - one.opened_ms);
  return { ...memory, jobs: Object.fromEntries(newest.slice(0, MOST_JOBS)) };
}

/** Keeps only the jobs that the server still lists. @param {Memory} memory @param {Record<string, string[]>} pages @returns {Memory} */
export function listed(memory, pages) {
  return { ...memory, jobs: Object.fromEntries(Object.entries(memory.jobs).filter(([id]) => id in pages)) };
}

/** @returns {Memory} */
function recall() {
  try {
    return JSON.parse(localStorage.getItem(MEMORY) ?? "null") ?? { person: "", jobs: {} };
  } catch {
    return { person: "", jobs: {} };
  }
}

/** @param {Memory} memory */
function remember(memory) {
  try { localStorage.setItem(MEMORY, JSON.stringify(memory)); } catch { /* nothing is kept then */ }
}

/** Notes which job is open here; after somebody else signed on, the copies of before go. @param {Document} page */
async function note(page) {
  let memory = recall();
  const person = markOf(page)?.person ?? "", work = page.querySelector("[data-job]");
  if (person && person !== memory.person) {
    if (memory.person) await caches.delete(PAGES);
    const jobs = Object.entries(memory.jobs).map(([id, job]) => [id, { ...job, kept_ms: 0 }]);
    memory = { person, jobs: Object.fromEntries(jobs) };
  }
  if (work instanceof HTMLElement) memory = opened(memory, work.dataset.job ?? "", work.dataset.head ?? "", Date.now());
  remember(memory);
  return memory;
}

/** Whether something is on its way to the server, which goes before. @param {Document} page */
async function isSending(page) {
  if (page.querySelector("form[data-busy]")) return true;
  return (await queuedOf()).some((/** @type {any} */ row) => row.state === "waiting");
}

/** Deletes the copies of jobs that are kept no more. @param {Memory} memory */
async function tidy(memory) {
  const kept = await caches.open(PAGES);
  for (const request of await kept.keys()) {
    const job = new URL(request.url).pathname.match(/^\/jobs\/([0-9a-f-]{36})\//)?.[1];
    if (job && !memory.jobs[job]) await kept.delete(request);
  }
}

/** Asks for copies one by one; ends where something else is to be sent. @param {Document} page @param {string[]} paths */
async function ask(page, paths) {
  for (const path of paths) {
    if (!isConnected(page) || await isSending(page)) return false;
    const answer = await fetch(path, { headers: { "X-By-Itself": "1", "X-Keep": "1" } });
    // The worker kept it. What nobody reads would hold the worker, and a newer one would have to wait.
    await answer.body?.cancel();
    if (!answer.ok || !answer.headers.has("X-Coldbus")) return false;
  }
  return true;
}

/** @param {Document} page */
async function round(page) {
  const memory = await note(page), due = Object.entries(memory.jobs).filter(([, job]) => isDue(job, Date.now()));
  if (!due.length || !isConnected(page) || await isSending(page)) return;
  const answer = await fetch(`/tablet/state/?jobs=${Object.keys(memory.jobs).join(",")}`, { headers: { "X-By-Itself": "1" } });
  if (!answer.ok || !answer.headers.get("Content-Type")?.includes("json")) return;
  const state = await answer.json();
  heardRelease(page, state.release);
  if (!state.person || state.person !== memory.person) return;
  remember(listed(recall(), state.pages));
  await tidy(recall());
  for (const [id] of due) {
    const began_ms = Date.now(), known = recall();
    if (!known.jobs[id] || !(await ask(page, state.pages[id] ?? []))) continue;
    const now = recall();
    if (now.jobs[id]) remember({ ...now, jobs: { ...now.jobs, [id]: { ...now.jobs[id], kept_ms: began_ms } } });
  }
  await ask(page, LISTS);
}

/** @param {Document} page @param {Window} view */
export function watchKept(page, view) {
  const { serviceWorker } = view.navigator;
  if (!view.isSecureContext || !serviceWorker || !("caches" in view)) return;
  serviceWorker.register("/sw.js", { scope: "/", updateViaCache: "none" }).then((found) => watchUpdates(page, view, found)).catch(() => undefined);
  // Whoever signs off leaves no pages behind; what was not sent stays.
  page.addEventListener("submit", (event) => {
    if (event.target instanceof HTMLFormElement && event.target.matches('[action$="/sign-off/"]')) caches.delete(PAGES);
  });
  if (page.documentElement.dataset.keptAt === undefined) note(page).catch(() => undefined);
  const look = () => {
    if (page.hidden || !page.querySelector("[data-job]") || page.documentElement.dataset.keptAt || !serviceWorker.controller) return;
    view.navigator.locks.request("coldbus-kept", { ifAvailable: true }, (lock) => (lock ? round(page) : undefined)).catch(() => undefined);
  };
  view.setInterval(look, LOOK_MS);
  // A page that was opened while the worker was beginning is not its own yet.
  serviceWorker.addEventListener("controllerchange", look);
  serviceWorker.ready.then((found) => (serviceWorker.controller ? look() : found.active?.postMessage("answer for me"))).catch(() => undefined);
}
