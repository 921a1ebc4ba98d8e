// @ts-check
/** The page of this tablet: what waits, receipts, the store, and unsent entries as a file. */
import { showConnection } from "./connection.js";
import { sendAll } from "./outbox.js";
import { all, tabletOf, within } from "./outbox_store.js";
import { uploadPhotos } from "./photo_lane.js";
import { drawRow, made } from "./queue_row.js";
import { queuedOf } from "./outbox.js";
import { clock } from "./queue_words.js";
import { say } from "./say.js";
import { exported, imported } from "./tablet_file.js";

const MEGA = 1_000_000;

/** @param {string} job @param {any[]} rows @param {(row: any) => Element} drawn */
function jobList(job, rows, drawn) {
  const way = made("a", { href: rows[0].page || `/jobs/${job}/` }, rows[0].jobname || say("Open its page"));
  return made("section", { class: "queued-job" }, made("h3", {}, way), ...rows.map(drawn));
}

/** @param {Element} place @param {any[]} rows @param {(row: any) => Element} drawn @param {string} none */
function fill(place, rows, drawn, none) {
  /** @type {Map<string, any[]>} */
  const jobs = new Map();
  for (const row of rows) jobs.set(row.job, [...(jobs.get(row.job) ?? []), row]);
  place.replaceChildren(...(rows.length ? [...jobs].map(([job, each]) => jobList(job, each, drawn)) : [made("p", {}, none)]));
}

/** @param {any} row */
const receipt = (row) => made("p", { class: "queued queued-taken" }, made("strong", {}, `${row.what || row.kind} `), say("{what}, recorded as entry {number}", { what: [row.label, clock(row.made)].filter(Boolean).join(", "), number: row.answer?.seq ?? "" }));

async function storeWords() {
  if (!navigator.storage?.persisted) return say("This page did not come over a trusted connection: entries are kept, but the browser may clear them when it needs room. Signing needs the connection.");
  const kept = await navigator.storage.persisted() || await navigator.storage.persist();
  const { usage, quota } = await navigator.storage.estimate();
  const room = quota ? ` ${say("{used} MB of {room} MB are used.", { used: Math.round((usage ?? 0) / MEGA), room: Math.round(quota / MEGA) })}` : "";
  return (kept ? say("The browser keeps what is stored here.") : say("The browser may clear what is stored here when it needs room: send what waits before this tablet is put away.")) + room;
}

/** @param {HTMLElement} root */
async function show(root) {
  const places = { waiting: root.querySelector("[data-tablet-waiting]"), taken: root.querySelector("[data-tablet-taken]"), store: root.querySelector("[data-tablet-store]") };
  const pictures = (await all("photos")).map((photo) => ({ ...photo, ...photo.about, entry: { ...photo.draft, job: photo.job }, photo: true }));
  const taken = (await all("receipts")).sort((one, other) => other.at - one.at).slice(0, 100);
  const waiting = [...await queuedOf(), ...pictures];
  // What is being typed there, a PIN or a reason, is not taken away.
  const typing = /** @type {HTMLInputElement[]} */ ([...root.querySelectorAll("[data-tablet-waiting] input")]).some((field) => field.value);
  if (places.waiting && !typing) fill(places.waiting, waiting, (row) => drawRow(row, false), say("Nothing waits on this tablet."));
  if (places.taken) fill(places.taken, taken, receipt, say("Nothing was sent from this tablet in the last seven days."));
  if (places.store) places.store.textContent = await storeWords();
  const { device } = await within(["meta"], tabletOf);
  for (const field of root.querySelectorAll("input[data-tablet-device]")) /** @type {HTMLInputElement} */ (field).value = device;
}

async function save() {
  const file = new Blob([JSON.stringify(await exported())], { type: "application/json" }), address = URL.createObjectURL(file);
  const link = made("a", { href: address, download: `unsent-entries-${new Date().toISOString().slice(0, 10)}.json` });
  link.click();
  URL.revokeObjectURL(address);
}

/** @param {HTMLElement} root @param {string} words */
function tell(root, words) {
  const place = root.querySelector("[data-tablet-said]");
  if (place) place.textContent = words;
}

/** @param {HTMLElement} root @param {Element} pressed */
async function act(root, pressed) {
  if (pressed.matches("[data-tablet-save]")) await save();
  if (!pressed.matches("[data-tablet-send]")) return;
  tell(root, say("Sending."));
  await Promise.all([sendAll(), uploadPhotos()]);
  await sendAll();
  const left = (await queuedOf()).length;
  tell(root, left ? say("{n} still here.", { n: left }) : say("Everything was sent."));
}

/** Puts the name that this tablet has into its field, unless somebody types there. @param {HTMLElement} root */
async function showName(root) {
  const field = root.querySelector("[data-tablet-name]");
  if (!(field instanceof HTMLInputElement)) return;
  const { device } = await within(["meta"], tabletOf);
  const answer = await fetch(`/tablet/state/?device=${device}`, { headers: { "X-By-Itself": "1" } });
  if (!answer.ok || !answer.headers.get("X-Coldbus")) return;
  const { name } = await answer.json();
  if (!field.value) field.value = field.defaultValue = name;
}

/** @param {Document} page */
export function watchTablet(page) {
  const root = page.querySelector("[data-tablet]");
  if (!(root instanceof HTMLElement)) return;
  const drawn = () => { show(root).catch(() => tell(root, say("This browser’s store does not answer. Load the page anew before you type anything."))); };
  page.addEventListener("coldbus:queue", drawn);
  root.addEventListener("click", (event) => {
    const pressed = event.target instanceof Element ? event.target.closest("button") : null;
    if (pressed) act(root, pressed).catch(() => showConnection(page, false));
  });
  root.addEventListener("change", async (event) => {
    const field = event.target;
    if (!(field instanceof HTMLInputElement) || !field.matches("[data-tablet-load]") || !field.files?.[0]) return;
    await field.files[0].text().then(imported).then((count) => tell(root, say("{n} taken in.", { n: count }))).catch((fault) => tell(root, fault.message));
    field.value = "";
  });
  drawn();
  showName(root).catch(() => undefined);
}

watchTablet(document);
