// @ts-check
/** Brings what a form holds to the door: through the outbox, or at once where only the server's answer will do. */
import { isConnected, showConnection } from "./connection.js";
import { sendEntries, stamped, token } from "./door.js";
import { formName, gather } from "./keep.js";
import { markOf } from "./mark.js";
import { drop, enqueue, outcomes, queuedOf, sendAll } from "./outbox.js";
import { one } from "./outbox_store.js";
import { became, dropPhoto, keepPhoto, uploadPhotos } from "./photo_lane.js";
import { shrunk } from "./photo.js";
import { valueWords, whatWords } from "./queue_words.js";
import { say } from "./say.js";
import { canSeal } from "./seal.js";

const NEEDS_ANSWER = new Set(["hold", "proof", "proof_end", "reopen", "countersign", "revision", "close"]);
const PATIENCE_MS = 4000;
/** What of a form was written and not answered for good. @type {WeakMap<object, {content: string, keys: string[]}>} */
const written = new WeakMap();
export const KEPT = { verdict: "kept", reasons: [] };

/** Whether an act may wait on the tablet. @param {any[]} drafts @param {Partial<import("./mark.js").Mark> | null} mark */
export function mayWait(drafts, mark) {
  return drafts.every((draft) => !NEEDS_ANSWER.has(draft.kind) && (!draft.pin || canSeal(mark)));
}

/** The job and the step that are open. */
function jobWords() {
  return [".bar-number", "#step-title"].map((what) => document.querySelector(what)?.textContent?.trim()).filter(Boolean).join(", ");
}

/** @param {HTMLFormElement} form @param {HTMLElement | null} button */
function aboutOf(form, button) {
  const fields = [...gather(/** @type {any} */ ({ querySelectorAll: (/** @type {string} */ what) => what.startsWith("form") ? [form] : [] }), null).typed.values()];
  const picked = form.querySelector("select[name=person]");
  const name = picked instanceof HTMLSelectElement ? picked.selectedOptions[0]?.textContent?.trim() : "";
  const about = { label: valueWords(form, button), what: whatWords(form), page: location.pathname, jobname: jobWords(), form: formName(form.dataset), fields: [...(fields[0] ?? [])] };
  return name ? { ...about, name } : about;
}

/** @param {Promise<unknown>} work */
function awhile(work) {
  return Promise.race([work, new Promise((go) => { setTimeout(go, isConnected(document) ? PATIENCE_MS : 0); })]);
}

/** Sends at once, or says that it was not sent. @param {any[]} entries @param {HTMLElement} work */
async function atOnce(entries, work) {
  const held = (await queuedOf().catch(() => [])).filter((row) => row.job === work.dataset.job);
  if (held.length) await sendAll();
  const left = (await queuedOf().catch(() => [])).filter((row) => row.job === work.dataset.job).length;
  if (left) throw new Error(left === 1 ? say("This needs the server’s answer, and an entry of this job waits on this tablet. It goes first.") : say("This needs the server’s answer, and {n} entries of this job wait on this tablet. They go first.", { n: left }));
  try {
    const answers = await sendEntries(work.dataset.entries ?? "", entries);
    showConnection(document, true);
    return answers;
  } catch {
    showConnection(document, false);
    if (entries.some((entry) => NEEDS_ANSWER.has(entry.kind))) throw new Error(say("This needs the server’s answer: the server did not answer. What was typed is still here; try again when the tablet is connected."));
    if (entries.some((entry) => entry.pin)) throw new Error(say("Signing needs the connection: the server did not answer. What was typed is still here; try again when the tablet is connected."));
    throw new Error(say("Not sent: the server did not answer. What was typed is still here; try again when the tablet is connected."));
  }
}

/** After the first attempt: answers, or "kept"; what was not taken does not stay in the way of the form. @param {string[]} keys */
async function firstAnswers(keys) {
  const answers = (await outcomes(keys)).map((answer) => answer ?? KEPT);
  const bad = answers.find((answer) => ["refused", "pin", "conflict"].includes(answer.verdict));
  const disputed = bad?.reasons?.some((/** @type {any} */ reason) => reason.code === "recorded_elsewhere");
  if (bad && !disputed && bad.verdict !== "conflict") await drop(keys.filter((_key, index) => answers[index].verdict !== "applied"));
  return disputed ? answers.map((answer) => answer === bad ? { ...bad, verdict: "disputed" } : answer) : answers;
}

/**
 * Delivers the drafts of one act, all or in order; gives an answer each: that of the door, or "kept".
 * @param {HTMLFormElement} form @param {HTMLElement | null} button @param {any[]} drafts @param {object[]} holders @param {HTMLElement} work
 */
export async function deliver(form, button, drafts, holders, work) {
  const direct = () => atOnce(drafts.map((draft, index) => stamped(holders[index], draft, work.dataset)), work);
  if (!mayWait(drafts, markOf(document))) return direct();
  const content = JSON.stringify(drafts.map((draft) => ({ ...draft, pin: "" }))), before = written.get(form);
  const still = before ? (await outcomes(before.keys).catch(() => [])).some((answer) => answer?.verdict === "auth") : false;
  let keys = before?.keys ?? [];
  if (before && still && before.content !== content) await drop(keys);
  if (!before || !still || before.content !== content) {
    try {
      keys = (await enqueue(drafts, work.dataset, aboutOf(form, button))).map((row) => row.key);
    } catch {
      return direct();
    }
  }
  written.set(form, { content, keys });
  await awhile(sendAll());
  return firstAnswers(keys);
}

/** Delivers a picture: kept, uploaded, then its entry. @param {HTMLFormElement} form @param {File} file @param {any} draft @param {HTMLElement} work */
export async function deliverPhoto(form, file, draft, work) {
  let photo;
  try {
    photo = await keepPhoto(file, draft, work.dataset, aboutOf(form, null));
  } catch (fault) {
    if (fault instanceof Error && !(fault instanceof DOMException)) throw fault;
    return atOnce([stamped(form, { ...draft, value: await uploaded(file, work) }, work.dataset)], work);
  }
  await awhile(uploadPhotos().then(() => sendAll()));
  const key = became.get(photo.key), refused = (await one("photos", photo.key))?.answer;
  if (refused) { await dropPhoto(photo.key); return [refused]; }
  return key ? firstAnswers([key]) : [KEPT];
}

/** Without a store on this tablet a picture is uploaded at once. @param {File} file @param {HTMLElement} work */
async function uploaded(file, work) {
  const body = new FormData();
  body.append("photo", await shrunk(file), "picture.jpg");
  const response = await fetch(work.dataset.photo ?? "", { method: "POST", body, headers: { "X-CSRFToken": token(document) } });
  const answer = await response.json();
  if (answer.verdict !== "applied") throw new Error(answer.text ?? say("The picture was not taken."));
  return { sha256: answer.sha256, media_type: answer.media_type };
}
