// @ts-check
/** The strict reading of a typed number; agrees with the server's, both are held by one table of cases. */

const SHAPE = /^([+-]?)([0-9]+(?:[.,][0-9]+)?)\s*([kM]?)([^0-9]*)$/;
const SPELLED = /** @type {Record<string, string[]>} */ ({
  ohm: ["ohm", "Ω", "\u2126"], V: ["V"], A: ["A"], degC: ["degC", "°C"], percent: ["percent", "%"],
  Nm: ["Nm", "N·m"], ftlb: ["ftlb", "ft·lb", "ft lb", "lb·ft"],
});
const POWER = /** @type {Record<string, string>} */ ({ "": "", k: "e3", M: "e6" });
const LONGEST = 40;

/** The number in that unit; null where it is none. Nothing is guessed. @param {string} typed @param {string} unit */
export function readNumber(typed, unit) {
  const text = typed.trim().replaceAll("\u2212", "-"), match = SHAPE.exec(text);
  if (!match || typed.includes("\ufeff") || text.length > LONGEST || /[\p{C}\p{Z}]/u.test(text.replaceAll(" ", ""))) return null;
  const [, sign, digits, prefix, rest] = match, spelled = rest.trim();
  if (spelled && !(SPELLED[unit] ?? [unit]).includes(spelled)) return null;
  if (prefix && unit !== "ohm") return null;
  return Number(`${sign}${digits.replace(",", ".")}${POWER[prefix]}`) + 0;
}

/** The prefix that was typed behind the digits. @param {string} typed @param {string} unit */
export function prefixTyped(typed, unit) {
  return unit === "ohm" ? (/[0-9]\s*([kM])/.exec(typed)?.[1] ?? "") : "";
}

/** What is sent: a prefix typed by hand goes before the button that is pressed. @param {string} typed @param {string} unit @param {string} pressed */
export function withPrefix(typed, unit, pressed) {
  const text = typed.trim();
  return prefixTyped(text, unit) || !/[0-9]$/.test(text) ? text : `${text}${pressed}`;
}

/** What stands in a field after a key of the keypad. @param {string} text @param {string} key */
export function afterKey(text, key) {
  if (key === "back") return text.slice(0, -1);
  if (key === "clear") return "";
  if (key === "sign") return /^[-\u2212]/.test(text) ? text.slice(1) : `-${text.replace(/^\+/, "")}`;
  if (key !== "," && key !== ".") return `${text}${key}`;
  return /[.,]/.test(text) ? text : `${/[0-9]$/.test(text) ? text : `${text}0`}${key}`;
}
