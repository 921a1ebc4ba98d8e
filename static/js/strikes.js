// @ts-check
/** One act of several entries: values are struck, then the form's own entry takes their place. */
import { deliver } from "./deliver.js";
import { answered } from "./door.js";

/** What was struck already, and for each strike the thing by which its key is kept. @type {WeakMap<HTMLFormElement, Map<string, {done: boolean}>>} */
const held = new WeakMap();

/** The values that a form strikes before anything else. @param {HTMLFormElement} form */
function strikes(form) {
  const known = held.get(form) ?? new Map();
  held.set(form, known);
  for (const target of (form.dataset.targets ?? "").split(" ").filter(Boolean)) {
    if (!known.has(target)) known.set(target, { done: false });
  }
  return known;
}

/**
 * Sends the strikes that are not done yet and then the entry, as one act; gives the first answer that was no yes.
 * @param {HTMLFormElement} form @param {HTMLElement | null} button @param {string} reason @param {any} draft @param {HTMLElement} work
 */
export async function sendWithStrikes(form, button, reason, draft, work) {
  const open = [...strikes(form)].filter(([, strike]) => !strike.done), holders = open.map(([, strike]) => strike);
  const drafts = open.map(([key]) => ({ kind: "strike", item: "", qualifier: "", value: { key, reason }, person: "", pin: "" }));
  const answers = await deliver(form, button, draft ? [...drafts, draft] : drafts, draft ? [...holders, form] : holders, work);
  open.forEach(([, strike], index) => {
    const { verdict } = answers[index] ?? {};
    if (verdict === "applied") strike.done = true;
    if (verdict === "applied" || verdict === "refused") answered(strike);
  });
  return answers.find((/** @type {any} */ each) => each.verdict !== "applied") ?? answers[answers.length - 1];
}
