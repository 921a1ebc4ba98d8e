// @ts-check
/** The keypad under a PIN field: digits and a step back; the keyboard goes on working. */

const LONGEST = 8;

/**
 * What the field holds after a key of the pad.
 * @param {string} typed @param {string} key a digit, or "back"
 */
export function afterKey(typed, key) {
  if (key === "back") return typed.slice(0, -1);
  return typed.length < LONGEST ? typed + key : typed;
}

/** @param {HTMLElement} pad */
function arm(pad) {
  const field = document.getElementById(pad.dataset.pinFor ?? "");
  if (!(field instanceof HTMLInputElement)) return;
  // The tablet's own keyboard would cover the keypad; a real keyboard types as before.
  field.inputMode = "none";
  pad.hidden = false;
  pad.addEventListener("click", (event) => {
    const key = event.target instanceof Element ? event.target.closest("[data-pin-key]") : null;
    if (!(key instanceof HTMLElement)) return;
    field.value = afterKey(field.value, key.dataset.pinKey ?? "");
  });
}

/** @param {Document} page */
export function watchPins(page) {
  for (const pad of page.querySelectorAll("[data-pin-for]")) if (pad instanceof HTMLElement) arm(pad);
}
