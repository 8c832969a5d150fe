/** What was changed in a record, when and by whom; the old values stay readable. */

import { get, search } from "../net/api.js";
import { moment } from "../net/session.js";
import { ruleInWords } from "../logic/doses.js";
import { el } from "./dom.js";
import { empty, growingList, later } from "./page.js";

const text = {
  title: "What was changed in this record",
  none: "Nothing was changed since it was made.",
  nothing: "nothing",
  line: (/** @type {string} */ field, /** @type {string} */ before, /** @type {string} */ after) =>
    `${field}: ${before} → ${after}`,
};

/** @param {any} value @returns {string} */
function words(value) {
  if (value === null || value === undefined || value === "") return text.nothing;
  if (typeof value !== "object") return String(value);
  if (Array.isArray(value)) return value.map(words).join(", ") || text.nothing;
  return value.kind ? ruleInWords(value) : JSON.stringify(value);
}

/** How a field's value is said; undefined leaves it to the plain words. @typedef {(field: string, value: any) => string|undefined} Say */

/**
 * @param {any} change @param {import("./dom.js").Children} [of] which record, where that is not clear
 * @param {Say} [say]
 */
export function changeRow(change, of, say = () => undefined) {
  const shown = (/** @type {string} */ field, /** @type {any} */ value) =>
    say(field, value) ?? words(value);
  const fields = Object.keys(change.after);
  return el(
    "div",
    { class: "entry" },
    of && el("p", {}, of),
    el("p", { class: "row-detail" }, `${moment(change.changed_at)}, ${change.changed_by}`),
    fields.map((field) =>
      el(
        "p",
        {},
        text.line(
          field.replaceAll("_", " "),
          shown(field, change.before[field]),
          shown(field, change.after[field]),
        ),
      ),
    ),
  );
}

/** @param {string} path of the record, such as "/stallions/ID" @param {string} [title] @param {Say} [say] */
export function changesPart(path, title = text.title, say = undefined) {
  return later(title, () =>
    growingList({
      label: title,
      none: empty(text.none),
      row: (change) => changeRow(change, undefined, say),
      load: (after) => get(`${path}/changes${search({ limit: 20, after })}`),
    }),
  );
}
