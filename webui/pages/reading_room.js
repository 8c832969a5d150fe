/** The auditor's reading room: what the book knew on any day, and whatever was not plain sailing. */

import { all, get, search } from "../net/api.js";
import { moment, today, zone } from "../net/session.js";
import { groupedCode } from "../logic/codes.js";
import { showNumber } from "../logic/numbers.js";
import { codesIn, columnOf, endOfDay, plain, TABLES, valueInWords } from "../logic/reading_room.js";
import { link } from "../logic/routes.js";
import { reasonInWords } from "../logic/stock_takes.js";
import { addDays, fromLocalField, showDay } from "../logic/times.js";
import { kindInWords } from "../logic/words.js";
import { el } from "../parts/dom.js";
import { dayField } from "../parts/fields.js";
import { go } from "../parts/go.js";
import { empty, linkButton, page, rowLink, section } from "../parts/page.js";

const text = {
  title: "Reading room",
  lead: "For whoever checks the station. Everything can be read here, nothing can be changed.",
  tables: "Tables",
  elsewhere: "Elsewhere",
  ways: [
    { href: "#/find", text: "The history of a straw" },
    { href: "#/people", text: "What a person did" },
    { href: "#/book", text: "The book itself" },
    { href: "#/stock-takes", text: "Stock-takes" },
  ],
  show: "Show",
  sheet: "As a spreadsheet",
  none: "There is nothing of the kind.",
  noneThen: (/** @type {string} */ day) => `There was nothing of the kind by ${day}.`,
  more: "Only the first rows are shown. The spreadsheet has all of them.",
  caption: (/** @type {string} */ when) => `As of ${when}`,
  unknown: "There is no such table",
};

function allTables() {
  return page(
    { title: text.title, lead: text.lead },
    section(
      text.tables,
      el(
        "ul",
        { class: "rows", "aria-label": text.tables },
        Object.entries(TABLES).map(([what, { title, about }]) =>
          el("li", {}, rowLink({ href: link("/reading-room", { what }), title, detail: about })),
        ),
      ),
    ),
    section(text.elsewhere, el("p", { class: "ways" }, text.ways.map(linkButton))),
  );
}

/** Until when: the whole of the day that was asked for; undefined for now. @param {string|null} day */
function momentOf(day) {
  if (!day || day === today()) return undefined;
  const next = fromLocalField(`${addDays(day, 1)}T00:00`, zone());
  return next ? endOfDay(next, new Date().toISOString()) : undefined;
}

/** @param {string} what @param {string} day @param {string} sheet where the spreadsheet is */
function dayForm(what, day, sheet) {
  const field = dayField({
    name: "on",
    label: TABLES[what].asOf,
    required: true,
    value: day,
    props: { max: today() },
  });
  const button = el("button", { type: "submit", class: "button" }, text.show);
  const download = el("a", { class: "button", href: sheet, download: `${what}.csv` }, text.sheet);
  const node = el(
    "form",
    { class: "day-form no-print", novalidate: true },
    field.node,
    button,
    download,
  );
  node.addEventListener("submit", (event) => {
    event.preventDefault();
    const on = field.raw() === today() ? "" : field.raw();
    go(link("/reading-room", { what, on }));
  });
  return node;
}

/** Who is meant by a name, where only one person has it. @returns {Promise<Map<string, string|null>>} */
async function peopleByName() {
  const people = await all("/people").catch(() => []);
  /** @type {Map<string, string|null>} */
  const found = new Map();
  for (const one of people)
    found.set(one.display_name, found.has(one.display_name) ? null : one.id);
  return found;
}

/**
 * @param {any} value @param {import("../logic/reading_room.js").Kind} kind
 * @param {Map<string, string|null>} people @returns {import("../parts/dom.js").Children}
 */
function cellOf(value, kind, people) {
  if (value === null || value === undefined || value === "") return null;
  if (kind === "moment") return moment(value);
  if (kind === "number") return showNumber(value);
  if (kind === "percent") return `${showNumber(value)} %`;
  if (kind === "entry") return el("a", { href: `#/book?entry=${value}` }, value);
  if (kind === "kind") return kindInWords(value);
  if (kind === "reason") return reasonInWords(value);
  if (kind === "record" || kind === "field") return plain(value);
  if (kind === "long") return valueInWords(value);
  if (kind === "codes")
    return codesIn(value).map((code) => [
      el("a", { class: "code", href: `#/straws/${code}` }, groupedCode(code)),
      " ",
    ]);
  const id = kind === "person" && people.get(value);
  return id ? el("a", { href: `#/people/${id}` }, value) : String(value);
}

/** @param {{kind: string}} column */
function styleOf({ kind }) {
  if (kind === "long") return "long";
  return kind === "number" || kind === "percent" ? "number" : "";
}

/** @param {any} table @param {Map<string, string|null>} people */
function tableView(table, people) {
  const columns = table.columns.map((/** @type {string} */ name) => ({
    name,
    ...columnOf(table.what, name),
  }));
  return el(
    "table",
    { class: "ledger-table", role: "table" },
    el("caption", {}, text.caption(moment(table.as_of))),
    el(
      "thead",
      { role: "rowgroup" },
      el(
        "tr",
        { role: "row" },
        columns.map((/** @type {any} */ one) =>
          el("th", { scope: "col", role: "columnheader", class: styleOf(one) }, one.title),
        ),
      ),
    ),
    el(
      "tbody",
      { role: "rowgroup" },
      table.items.map((/** @type {any} */ row) =>
        el(
          "tr",
          { role: "row" },
          columns.map((/** @type {any} */ one) => {
            const shown = cellOf(row[one.name], one.kind, people);
            return el(
              "td",
              {
                role: "cell",
                "data-name": one.title,
                class: `${styleOf(one)} ${shown === null ? "none" : ""}`,
              },
              el("span", {}, shown),
            );
          }),
        ),
      ),
    ),
  );
}

/** @param {import("../parts/page.js").Context} context */
export default async function readingRoom({ query }) {
  const what = query.get("what");
  if (!what) return allTables();
  const back = { href: "#/reading-room", text: text.title };
  if (!(what in TABLES)) return page({ title: text.unknown, back }, empty(text.unknown, back));
  const on = query.get("on") ?? "";
  const asOf = momentOf(on);
  const [table, people] = await Promise.all([
    get(`/reading-room/${what}${search({ as_of: asOf })}`),
    peopleByName(),
  ]);
  const sheet = `/api/reading-room/${what}/table.csv${search({ as_of: asOf })}`;
  const { title, about } = TABLES[what];
  return page(
    { title, lead: about, back, kind: "page-wide" },
    dayForm(what, on || today(), sheet),
    table.items.length
      ? tableView({ ...table, as_of: asOf ?? new Date().toISOString() }, people)
      : empty(on ? text.noneThen(showDay(on)) : text.none),
    table.more && el("p", { class: "notice" }, text.more),
  );
}
