/** Whether a batch may leave: its days in store, its tests, what is lacking; and recording a test. */

import { sendAct } from "../net/acts.js";
import { get, search } from "../net/api.js";
import { keep } from "../net/keep.js";
import { iMay, moment, today } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { addDays, showDay } from "../logic/times.js";
import { el } from "./dom.js";
import { areaField, choiceField, dayField, suggestField, textField } from "./fields.js";
import { form } from "./form.js";
import { refresh } from "./go.js";
import { badge, disclosure, empty, growingList, later, section } from "./page.js";

const text = {
  title: "Days in store and tests",
  clear: "Nothing is lacking by this book’s count.",
  days: (/** @type {any} */ c) =>
    `${plural(c.days_in_store, "day")} in store since the collection; ${c.days_needed} are asked for.`,
  full: (/** @type {any} */ c) => `Full on ${showDay(c.full_on)}.`,
  fullSince: (/** @type {any} */ c) => `Full since ${showDay(c.full_on)}.`,
  noDay: "The day of collection is not known, so no days can be counted.",
  caption: "What counts of each test",
  test: "Test",
  result: "Result",
  sampled: "Sampled",
  noTests: "No test is asked for at this station.",
  lacking: (/** @type {string} */ what) => `Lacking: ${what}.`,
  someDays: (/** @type {number} */ days) => `${plural(days, "day")} in store`,
  dayUnknown: "the day of collection",
  notNegative: (/** @type {any} */ one) => `a negative ${one.test}`,
  source: (/** @type {any} */ c) =>
    `This is a reckoning, not a certificate: local rules and the authority’s own form come first. The usual days and tests are those of ${c.source}; the station’s page has what is asked for here.`,
  record: "Record a test",
  sampledOn: "Sampled on",
  which: "Test",
  whichHint: "As the laboratory names it, such as EIA, EVA or CEM.",
  laboratory: "Laboratory",
  note: "Note",
  done: "The test is recorded.",
  all: "Every test that was entered",
  none: "No test is entered yet.",
  by: (/** @type {any} */ one) => `Entered ${moment(one.recorded_at)} by ${one.by}`,
  results: { negative: "negative", pending: "awaited", positive: "positive" },
  notRecorded: "not recorded",
};

const OPTIONS = [
  { value: "negative", text: "Negative" },
  { value: "pending", text: "Awaited", hint: "Sampled; the laboratory has not answered yet" },
  { value: "positive", text: "Positive" },
];

/** @param {any} one */
function resultBadge(one) {
  if (!one.result) return badge(text.notRecorded, "warn");
  const kinds = { negative: "good", pending: "warn", positive: "bad" };
  const result = /** @type {keyof typeof kinds} */ (one.result);
  return badge(text.results[result], /** @type {any} */ (kinds[result]));
}

/** @param {any} c */
function testTable(c) {
  if (!c.tests.length) return el("p", { class: "hint" }, text.noTests);
  const head = [text.test, text.result, text.sampled];
  return el(
    "table",
    { class: "table" },
    el("caption", {}, text.caption),
    el("thead", {}, el("tr", {}, head.map((one) => el("th", { scope: "col" }, one)))),
    el(
      "tbody",
      {},
      c.tests.map((/** @type {any} */ one) =>
        el(
          "tr",
          {},
          el("th", { scope: "row" }, one.test),
          el("td", {}, resultBadge(one)),
          el("td", {}, one.sampled_on ? showDay(one.sampled_on) : "–"),
        ),
      ),
    ),
  );
}

/** @param {any} c */
function daysInWords(c) {
  if (c.days_in_store === null) return text.noDay;
  return `${text.days(c)} ${lackingDays(c) > 0 ? text.full(c) : text.fullSince(c)}`;
}

/** @param {any} c */
function lackingDays(c) {
  return c.days_needed - c.days_in_store;
}

/** What is lacking, or that nothing is. @param {any} c */
export function lackingNotice(c) {
  if (c.clear) return el("p", { class: "notice notice-good" }, text.clear);
  const days = c.days_in_store === null ? text.dayUnknown : text.someDays(lackingDays(c));
  const lacking = [
    (c.days_in_store === null || lackingDays(c) > 0) && days,
    ...c.tests
      .filter((/** @type {any} */ one) => one.result !== "negative")
      .map(text.notNegative),
  ].filter(Boolean);
  return el("p", { class: "notice notice-warn" }, text.lacking(lacking.join(", ")));
}

/** @param {any} batch */
function testForm(batch) {
  const fields = [
    suggestField({
      name: "test",
      label: text.which,
      hint: text.whichHint,
      required: true,
      suggestions: batch.clearance.tests.map((/** @type {any} */ one) => one.test),
      props: { maxlength: 60 },
    }),
    dayField({ name: "sampled_on", label: text.sampledOn, required: true, props: { max: today() } }),
    choiceField({ name: "result", label: text.result, required: true, options: OPTIONS }),
    textField({ name: "laboratory", label: text.laboratory, props: { maxlength: 120 } }),
    areaField({ name: "note", label: text.note }),
  ];
  const key = `test:${batch.id}`;
  return form({
    key,
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit: text.record,
    send: async (values) => {
      const { data } = await sendAct(key, `/batches/${batch.id}/tests`, values);
      tellBatch(batch.id, text.done, data.warnings);
      refresh();
    },
  }).node;
}

/** What an act on a batch answered, to stand on its page once. @param {string} id @param {string} done @param {any[]} warnings */
export function tellBatch(id, done, warnings) {
  keep(`batch-told:${id}`, { done, warnings: warnings.map((one) => one.message) });
}

/** @param {any} one */
function testCard(one) {
  return el(
    "div",
    { class: "entry" },
    el("p", {}, el("strong", {}, one.test), " ", resultBadge(one), " ", showDay(one.sampled_on)),
    el("p", { class: "row-detail" }, [one.laboratory, text.by(one)].filter(Boolean).join(" · ")),
    one.note && el("p", {}, one.note),
  );
}

/** @param {any} batch */
function allTests(batch) {
  return growingList({
    label: text.all,
    none: empty(text.none),
    row: testCard,
    load: (after) => get(`/batches/${batch.id}/tests${search({ limit: 25, after })}`),
  });
}

/** The day on which a batch has been long enough in store, while it is still to come. @param {any} batch */
export function fullDayAhead(batch) {
  const { full_on } = batch.clearance;
  return full_on && full_on >= addDays(today(), 1) ? full_on : null;
}

/** @param {any} batch */
export function clearancePart(batch) {
  const c = batch.clearance;
  return section(
    text.title,
    lackingNotice(c),
    el("p", {}, daysInWords(c)),
    testTable(c),
    el("p", { class: "hint" }, text.source(c)),
    iMay("book") && disclosure(text.record, testForm(batch)),
    later(text.all, () => allTests(batch)),
  );
}
