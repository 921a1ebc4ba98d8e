// @ts-check
/** Words for people: from the catalogue that came with the page, so that a kept page speaks as it was kept. English needs none. */

/** @type {Record<string, string> | null} */
let words = null;

/** @returns {Record<string, string>} */
function catalogue() {
  const place = globalThis.document?.getElementById("words");
  words ??= JSON.parse(place?.textContent ?? "{}");
  return words ?? {};
}

/** A sentence in the page's language, its named fields put in; the first argument is always written out. @param {string} text @param {Record<string, string | number>} [values] */
export function say(text, values = {}) {
  return (catalogue()[text] ?? text).replace(/\{(\w+)\}/g, (field, name) => String(values[name] ?? field));
}

/** The language in which days and times are written; the browser's own where no page says one. */
export function language() {
  return globalThis.document?.documentElement?.lang || undefined;
}
