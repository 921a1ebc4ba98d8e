// @ts-check
/** What the page was told about this tablet: who is signed on, the ticket for that, the key for PINs. */

/**
 * @typedef {Object} Mark
 * @property {string} epoch which life of the database this is; a restore begins another
 * @property {string} person @property {string} name @property {string} ticket
 * @property {{id: string, spki: string} | null} seal @property {string} now time of the server (ISO, UTC)
 */

/** @param {ParentNode} page @returns {Partial<Mark> | null} */
export function markOf(page) {
  const text = page.querySelector('meta[name="coldbus-tablet"]')?.getAttribute("content");
  if (!text) return null;
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
