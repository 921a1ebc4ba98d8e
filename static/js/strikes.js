// @ts-check
/** One act of several entries: values are struck, then the form's own entry takes their place. */
import { answered, sendEntries, stamped } from "./door.js";

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
 * Sends the strikes that are not done yet and then the entry, in one batch; gives the first answer that was no yes.
 * @param {HTMLFormElement} form @param {string} reason @param {object | null} entry @param {HTMLElement} work
 */
export async function sendWithStrikes(form, reason, entry, work) {
  const open = [...strikes(form)].filter(([, strike]) => !strike.done);
  const entries = open.map(([key, strike]) => stamped(strike, {
    kind: "strike", item: "", qualifier: "", value: { key, reason }, person: "", pin: "",
  }, work.dataset));
  const answers = await sendEntries(work.dataset.entries ?? "", entry ? [...entries, entry] : entries);
  open.forEach(([, strike], index) => {
    const { verdict } = answers[index] ?? {};
    if (verdict === "applied") strike.done = true;
    if (verdict === "applied" || verdict === "refused") answered(strike);
  });
  return answers.find((/** @type {any} */ each) => each.verdict !== "applied") ?? answers[answers.length - 1];
}
