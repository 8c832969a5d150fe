/** How this station counts: what may stay unexplained, how often each goblet, and the usual sample. */

import { call } from "../net/api.js";
import { iMay } from "../net/session.js";
import { plural, showNumber } from "../logic/numbers.js";
import { changesPart } from "../parts/changes.js";
import { readVersion } from "../parts/conflict.js";
import { el } from "../parts/dom.js";
import { numberField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { factList, page } from "../parts/page.js";

const text = {
  title: "Limits of stock-takes",
  lead: "What may stay unexplained, how often each goblet is counted, and the usual sample.",
  readOnly: "Managers change this.",
  back: { href: "#/stock-takes", text: "Stock-takes" },
  once: "Missing in one goblet without an explanation, at most",
  onceHint: "More than that is counted again by somebody else before it is booked.",
  year: "Missing without an explanation in a year, at most",
  yearHint: "More than that, and an alert is raised.",
  every: "Each goblet is counted at least every",
  everyHint: "In the reading room those that were counted longest ago stand first.",
  sample: "The usual sample",
  confidence: "How sure it has to be",
  detect: "It has to find a bank in which so many of the goblets are wrong",
  save: "Save",
  saved: "Saved.",
};

/** @param {any} plan */
function planFields(plan) {
  const number = (
    /** @type {string} */ name,
    /** @type {string} */ label,
    /** @type {Record<string, any>} */ more,
  ) => numberField({ name, label, required: true, value: String(plan[name]), ...more });
  const whole = { whole: true, least: 0 };
  return {
    once: number("unexplained_straws", text.once, { ...whole, unit: "straws", hint: text.onceHint, most: 1000 }),
    year: number("unexplained_straws_a_year", text.year, { ...whole, unit: "straws", hint: text.yearHint, most: 10_000 }),
    every: number("count_every_days", text.every, { whole: true, unit: "days", hint: text.everyHint, least: 1, most: 3650 }),
    confidence: number("confidence_percent", text.confidence, { unit: "%", least: 50, most: 99.99 }),
    detect: number("detect_percent", text.detect, { unit: "%", moreThan: 0, most: 100 }),
  };
}

/** @param {ReturnType<typeof planFields>} f */
function layout(f) {
  return el(
    "div",
    { class: "form-part" },
    el("div", { class: "pair pair-wide" }, f.once.node, f.year.node),
    f.every.node,
    el(
      "fieldset",
      { class: "fieldset" },
      el("legend", {}, text.sample),
      el("div", { class: "pair pair-wide" }, f.confidence.node, f.detect.node),
    ),
  );
}

/** @param {any} plan */
function facts(plan) {
  return factList([
    [text.once, plural(plan.unexplained_straws, "straw")],
    [text.year, plural(plan.unexplained_straws_a_year, "straw")],
    [text.every, plural(plan.count_every_days, "day")],
    [`${text.sample}: ${text.confidence.toLowerCase()}`, `${showNumber(plan.confidence_percent)} %`],
    [text.detect, `${showNumber(plan.detect_percent)} %`],
  ]);
}

export default async function stockTakePlanPage() {
  const path = "/stock-take-plan";
  const first = await call("GET", path);
  if (!iMay("manage"))
    return page(
      { title: text.title, lead: text.readOnly, back: text.back },
      facts(first.data),
      changesPart(path),
    );
  const f = planFields(first.data);
  const fields = Object.values(f);
  const record = readVersion({ path, first, fields, mine: (values) => values });
  const built = form({
    key: "stock-take-plan",
    fields: () => fields,
    body: layout(f),
    submit: text.save,
    send: async (values) => {
      await record.send(values);
      toast(text.saved);
      go(text.back.href);
    },
    refused: (problem) => record.refused(problem, built.said),
  });
  return page({ title: text.title, lead: text.lead, back: text.back }, built.node, changesPart(path));
}
