// @ts-check
/** Asks for the PIN again on the page itself, so that nothing typed is lost, then sends again. */
import { token } from "./door.js";
import { sendAll } from "./outbox.js";
import { say } from "./say.js";

/** What was refused because nobody is signed on any more. @type {{form: HTMLFormElement, button: HTMLElement | null} | null} */
let held = null;

/** @param {HTMLFormElement} form @param {HTMLElement | null} button */
export function askAgain(form, button) {
  const unlock = document.querySelector("form[data-unlock]");
  if (!(unlock instanceof HTMLFormElement)) return;
  held = { form, button };
  unlock.hidden = false;
  unlock.querySelector("input")?.focus();
}

/** @param {HTMLFormElement} unlock */
async function signOn(unlock) {
  const body = new FormData(unlock);
  body.append("next", "/shop/sign-on/");
  const response = await fetch(unlock.dataset.unlock ?? "", { method: "POST", body, headers: { "X-CSRFToken": token(document) } });
  if (response.redirected) return "";
  const page = new DOMParser().parseFromString(await response.text(), "text/html");
  return page.querySelector("form .fault")?.textContent?.trim() || say("That PIN was not taken.");
}

/** @param {Document} page */
export function watchUnlock(page) {
  page.addEventListener("submit", async (event) => {
    const unlock = event.target;
    if (!(unlock instanceof HTMLFormElement) || !unlock.matches("[data-unlock]")) return;
    event.preventDefault();
    const said = await signOn(unlock).catch(() => say("The server did not answer; try again."));
    const answer = unlock.querySelector(".answer"), pin = unlock.querySelector("input");
    if (answer) answer.textContent = said;
    if (pin) pin.value = "";
    if (said) { pin?.focus(); return; }
    unlock.hidden = true;
    if (held?.form.isConnected) held.form.requestSubmit(held.button);
    else sendAll().catch(() => undefined);
    held = null;
  });
}
