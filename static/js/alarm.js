// @ts-check
/** Times that run: counted down on the page, with an alarm once when one is over. */
import { refresh } from "./refresh.js";
import { beep } from "./sound.js";

const SWITCH = "alarm|silent", TONES = [880, 660, 880, 660, 880, 660];
/** How long after its end a time is still worth an alarm [ms]: a page opened hours later is silent. */
const LATE_MS = 120000;
/** By how much the server's clock is ahead of the tablet's, and for which page that was found [ms]. */
let ahead_ms = 0, seen = "";
/** What the alarm that nobody has heard yet says. */
let unheard = "";

/** Minutes and seconds, with hours where there are any. @param {number} left_ms */
export function leftWords(left_ms) {
  const whole = Math.max(0, Math.ceil(left_ms / 1000)), hours = Math.floor(whole / 3600);
  const minutes = Math.floor(whole / 60) % 60, seconds = String(whole % 60).padStart(2, "0");
  return hours ? `${hours}:${String(minutes).padStart(2, "0")}:${seconds}` : `${minutes}:${seconds}`;
}

/** Whether an alarm is due: the time is over, not long ago, and none was given for it. @param {number} left_ms @param {boolean} given */
export function alarmDue(left_ms, given) {
  return left_ms <= 0 && left_ms > -LATE_MS && !given;
}

/** Shows the alarm until somebody says that it was heard. @param {Document} page */
function show(page) {
  const bar = page.querySelector("[data-alarm]"), told = bar?.querySelector("[data-alarm-words]");
  if (!(bar instanceof HTMLElement) || !told) return;
  if (told.textContent !== unheard) told.textContent = unheard;
  bar.hidden = !unheard;
}

/** Alarms by eye and, where it is switched on, by ear. @param {Document} page @param {string} words */
function alarm(page, words) {
  unheard = words;
  show(page);
  if (localStorage.getItem(SWITCH) === "1") return;
  TONES.forEach((pitch_hz, turn) => beep(pitch_hz, 0.3, turn * 0.4));
}

/** @param {Document} page */
function clockOf(page) {
  const clock = page.querySelector("[data-server-now]");
  if (!(clock instanceof HTMLElement) || clock.dataset.serverNow === seen) return;
  seen = clock.dataset.serverNow ?? "";
  ahead_ms = Date.parse(seen) - Date.now();
}

/** @param {Document} page */
async function tick(page) {
  clockOf(page);
  let over = false;
  // One moment for all of them: what ends at the same time is over at the same look.
  const now_ms = Date.now() + ahead_ms;
  // The count-down says in its own words what is over; a point in a list only that a time is.
  for (const each of [...page.querySelectorAll(".count[data-until]"), ...page.querySelectorAll("li[data-until]")]) {
    const { until = "", over: words = "", first } = /** @type {HTMLElement} */ (each).dataset;
    const left_ms = Date.parse(until) - now_ms, name = `alarm|${until}`;
    const shown = each.querySelector("[data-left]");
    if (shown) shown.textContent = left_ms > 0 ? leftWords(left_ms) : words;
    if (left_ms > 0 && !first) /** @type {HTMLElement} */ (each).dataset.first = "1";
    if (!alarmDue(left_ms, localStorage.getItem(name) !== null)) continue;
    localStorage.setItem(name, String(Date.now()));
    alarm(page, words);
    over ||= first === "1";
  }
  if (over) await refresh(null);
}

/** Forgets alarms of yesterday, so that a tablet does not fill up. */
function forget() {
  for (const name of Object.keys(localStorage)) {
    if (name.startsWith("alarm|2") && Number(localStorage.getItem(name)) < Date.now() - 86400000) localStorage.removeItem(name);
  }
}

/** @param {Document} page */
function showSwitch(page) {
  const on = localStorage.getItem(SWITCH) !== "1";
  for (const each of page.querySelectorAll("[data-alarm-switch]")) each.setAttribute("aria-pressed", String(on));
}

/** @param {Document} page @param {Window} view */
export function watchAlarms(page, view) {
  page.addEventListener("click", (event) => {
    const target = event.target instanceof Element ? event.target : null;
    if (target?.closest("[data-alarm-heard]")) { unheard = ""; show(page); }
    if (!target?.closest("[data-alarm-switch]")) return;
    localStorage.setItem(SWITCH, localStorage.getItem(SWITCH) === "1" ? "0" : "1");
    showSwitch(page);
    if (localStorage.getItem(SWITCH) === "0") beep(880, 0.3);
  });
  const look = () => { showSwitch(page); show(page); tick(page).catch(() => undefined); };
  page.addEventListener("htmx:afterSettle", look);
  forget();
  look();
  view.setInterval(() => { tick(page).catch(() => undefined); }, 1000);
}
