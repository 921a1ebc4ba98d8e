// @ts-check
/** Adds up what a quotation's rows hold, exact to the cent; a preview of what the server computes. */

/** @typedef {{quantity: string, unit_price: string, tax_percent: string, kind?: string, optional?: string}} Row */

/** Reads a number as typed into a whole number of its last decimal; null where it is none. @param {string} typed @param {number} decimals */
export function scaled(typed, decimals) {
  const match = /^([0-9]{1,9})(?:[.,]([0-9]{1,9}))?$/.exec(typed.trim());
  const after = (match?.[2] ?? "").replace(/0+$/, "");
  if (!match || after.length > decimals) return null;
  return BigInt(match[1] + after.padEnd(decimals, "0"));
}

/** Divides, half away from zero. @param {bigint} number @param {bigint} by @returns {bigint} */
function rounded(number, by) {
  return number < 0n ? -rounded(-number, by) : (number + by / 2n) / by;
}

/** Net of a row in cents, of a discount below zero; null while something is missing. @param {Row} row */
export function netOf(row) {
  const quantity = scaled(row.quantity, 3), price = scaled(row.unit_price, 2);
  if (quantity === null || price === null) return null;
  const net = rounded(quantity * price, 1000n);
  return row.kind === "discount" ? -net : net;
}

/** Net, tax and total in cents of the rows done in any case; null while a row is not whole. @param {Row[]} rows */
export function sumsOf(rows) {
  /** @type {Map<bigint, bigint>} */
  const nets = new Map();
  let net = 0n, tax = 0n;
  for (const row of rows) {
    const line = netOf(row), percent = row.tax_percent.trim() ? scaled(row.tax_percent, 2) : 0n;
    if (line === null || percent === null) return null;
    if (row.optional) continue;
    net += line;
    nets.set(percent, (nets.get(percent) ?? 0n) + line);
  }
  for (const [percent, sum] of nets) tax += rounded(sum * percent, 10000n);
  return { net, tax, total: net + tax };
}

/** Writes cents as the server reads them. @param {bigint} cents */
export function plain(cents) {
  const digits = String(cents < 0n ? -cents : cents).padStart(3, "0");
  return `${cents < 0n ? "-" : ""}${digits.slice(0, -2)}.${digits.slice(-2)}`;
}

/** Writes cents for people. @param {bigint} cents @param {string} currency */
export function shown(cents, currency) {
  const grouped = plain(cents).replace(/\B(?=(\d{3})+(?=\.))/g, "\u00a0");
  return currency ? `${grouped}\u00a0${currency}` : grouped;
}
