// @ts-check
/** Turns what a form holds into the draft of an entry; pure, so that it is tested without a page. */
import { strokesOf } from "./pad.js";

/**
 * @typedef {Object} Asked
 * @property {string} entry     how it is entered ("tick", "reading", "sign", ...)
 * @property {string} kind      kind of entry
 * @property {Record<string, string>} data   data- attributes of the form
 * @property {Record<string, string>} fields values of its named fields
 * @property {Record<string, string>} parts  chosen parts of the qualifier
 * @property {Record<string, string>} rows   numbers of a table by row
 */

/** Kinds whose value is made of the form's own attributes and fields. */
const ATTRIBUTES = {
  sign: ["step", "outcome"],
  hold: ["step", "hold"],
  proof: ["round"],
  reopen: ["step"],
  countersign: ["digest"],
  proof_end: [],
  revision: [],
  close: [],
};
/** What one sample carries. */
const SAMPLE_FIELDS = ["t_s", "gauge", "gauge_unit", "temp_c", "barometer", "barometer_unit", "lag_s"];
const OWN_FIELDS = ["reason", "cause", "revision"];

/** @param {Record<string, string>} parts */
export function qualifierOf(parts) {
  return Object.keys(parts).sort().map((name) => `${name}=${parts[name].trim()}`).join(";");
}

/** @param {string} text */
export function seriesRows(text) {
  return text.split("\n").map((line) => line.trim()).filter(Boolean)
    .map((line) => line.split(/[;\s]+/).filter(Boolean));
}

/** A customer's signature: the name, how it was given, what was drawn. @param {Record<string, string>} fields */
function drawnOf(fields) {
  return { name: (fields.name ?? "").trim(), note: (fields.note ?? "").trim(), strokes: strokesOf(fields.strokes ?? "") };
}

/** What was typed, with the unit of the form where there is more than one: the page may be older than the shop's choice. @param {Asked} asked @param {any} typed @param {string} name */
function typedIn(asked, typed, name) {
  return asked.fields.in ? { in: asked.fields.in, [name]: typed } : typed;
}

/** @param {Asked} asked */
function valueOf(asked) {
  const { fields } = asked;
  switch (asked.entry) {
    case "tick": return true;
    case "signature": return {};
    case "drawn": return drawnOf(fields);
    case "reading":
    case "bounded": return typedIn(asked, `${fields.comparator ?? ""}${fields.value.trim()}`, "typed");
    case "series": return typedIn(asked, seriesRows(fields.value), "rows");
    case "quotation": return JSON.parse(fields.value);
    case "torque": return fields.clicked ? { [fields.bolt]: { clicked: fields.clicked } } : typedIn(asked, { [fields.bolt]: fields.value.trim() }, "rows");
    case "sample": return Object.fromEntries(SAMPLE_FIELDS.map((name) => [name, (fields[name] ?? "").trim()]));
    case "table": return typedIn(asked, Object.fromEntries(Object.entries(asked.rows).filter(([, number]) => number.trim())), "rows");
    case "equipment":
    case "person":
    case "spare": return { id: fields.value };
    case "strike": return { key: asked.data.target, reason: fields.reason };
    default: return fields.value ?? "";
  }
}

/** @param {Asked} asked */
export function draftOf(asked) {
  const names = ATTRIBUTES[/** @type {keyof ATTRIBUTES} */ (asked.kind)];
  /** @type {any} */
  let value;
  if (names) {
    value = {};
    for (const name of names) value[name] = asked.data[name] ?? "";
    if (asked.kind === "close") value.received_by = drawnOf(asked.fields);
    for (const name of OWN_FIELDS) if (asked.fields[name]) value[name] = asked.fields[name];
  } else {
    value = valueOf(asked);
  }
  return {
    kind: asked.kind,
    item: asked.data.item ?? "",
    qualifier: Object.keys(asked.parts).length ? qualifierOf(asked.parts) : (asked.data.qualifier ?? ""),
    value,
    person: asked.fields.person ?? "",
    pin: asked.fields.pin ?? "",
  };
}
