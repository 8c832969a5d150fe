/** What becomes of each row of a spreadsheet: problems first. */

import { plural } from "../logic/numbers.js";
import { el } from "./dom.js";
import { badge, factList } from "./page.js";

const SHOWN = 200;

const text = {
  line: (/** @type {number} */ line) => `Line\u00a0${line}`,
  refused: "refused",
  look: "look again",
  rows: "Rows by line, problems first",
  more: (/** @type {number} */ count) => `and ${plural(count, "more row")} like these`,
  sign: { comma: "comma", semicolon: "semicolon", tab: "tab" },
  decimal: { comma: "comma (0,5)", point: "point (0.5)" },
  orders: { "day-first": "day first", "month-first": "month first" },
};

/** @param {any} looked */
export function fileFacts(looked) {
  const totals = looked.totals;
  return factList([
    ["Rows", totals.rows],
    ["Would be booked", totals.rows_booked],
    ["Refused", totals.rows_refused],
    ["Straws", totals.straws],
    ["Batches", totals.batches],
    ["Between cells", text.sign[/** @type {keyof typeof text.sign} */ (looked.delimiter)]],
    ["Decimal sign", text.decimal[/** @type {keyof typeof text.decimal} */ (looked.decimal)]],
    ["Dates", text.orders[/** @type {keyof typeof text.orders} */ (looked.date_order)]],
  ]);
}

/** @param {any} row */
function fate(row) {
  return el(
    "tr",
    {},
    el("th", { scope: "row" }, text.line(row.line)),
    el(
      "td",
      {},
      !row.booked && [badge(text.refused, "bad"), " "],
      row.booked && row.warnings.length > 0 && [badge(text.look, "warn"), " "],
      row.message,
      row.warnings.map((/** @type {string} */ one) => el("p", { class: "hint" }, one)),
    ),
  );
}

/** @param {any} looked */
export function fates(looked) {
  const left = looked.totals.rows - Math.min(looked.rows.length, SHOWN);
  if (!looked.rows.length) return null;
  return el(
    "div",
    {},
    el(
      "table",
      { class: "table" },
      el("caption", {}, text.rows),
      el("tbody", {}, looked.rows.slice(0, SHOWN).map(fate)),
    ),
    left > 0 && el("p", {}, text.more(left)),
  );
}
