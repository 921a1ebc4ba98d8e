// @ts-check
/** Sounds of the tablet; a browser lets none out before the first touch. */

/** @type {AudioContext | null} */
let context = null;

/** @param {Document} page */
export function watchSound(page) {
  page.addEventListener("pointerdown", () => {
    context ??= typeof AudioContext === "undefined" ? null : new AudioContext();
    context?.resume().catch(() => undefined);
  }, { capture: true });
}

/** Sounds a tone; tells whether one was heard. @param {number} pitch_hz @param {number} length_s @param {number} [after_s] */
export function beep(pitch_hz, length_s, after_s = 0) {
  if (context?.state !== "running") return false;
  const tone = context.createOscillator(), level = context.createGain(), at = context.currentTime + after_s;
  tone.frequency.value = pitch_hz;
  level.gain.setValueAtTime(0.0001, at);
  level.gain.exponentialRampToValueAtTime(0.4, at + 0.02);
  level.gain.setValueAtTime(0.4, at + length_s - 0.03);
  level.gain.exponentialRampToValueAtTime(0.0001, at + length_s);
  tone.connect(level).connect(context.destination);
  tone.start(at);
  tone.stop(at + length_s);
  return true;
}
