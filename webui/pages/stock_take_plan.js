/** How this station counts: what may stay unexplained, how often each goblet, and the usual sample. */

import { plural, showNumber } from "../logic/numbers.js";
import { el } from "../parts/dom.js";
import { numberField } from "../parts/fields.js";
import { planPage } from "../parts/plan_page.js";

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
};

/** @param {any} plan */
function fields(plan) {
  const number = (
    /** @type {string} */ name,
    /** @type {string} */ label,
    /** @type {Record<string, any>} */ more,
  ) => numberField({ name, label, required: true, value: String(plan[name]), ...more });
  const whole = { whole: true, least: 0 };
  return [
    number("unexplained_straws", text.once, { ...whole, unit: "straws", hint: text.onceHint, most: 1000 }),
    number("unexplained_straws_a_year", text.year, { ...whole, unit: "straws", hint: text.yearHint, most: 10_000 }),
    number("count_every_days", text.every, { whole: true, unit: "days", hint: text.everyHint, least: 1, most: 3650 }),
    number("confidence_percent", text.confidence, { unit: "%", least: 50, most: 99.99 }),
    number("detect_percent", text.detect, { unit: "%", moreThan: 0, most: 100 }),
  ];
}

/** @param {import("../parts/fields.js").Field[]} fields */
function layout([once, year, every, confidence, detect]) {
  return el(
    "div",
    { class: "form-part" },
    el("div", { class: "pair pair-wide" }, once.node, year.node),
    every.node,
    el(
      "fieldset",
      { class: "fieldset" },
      el("legend", {}, text.sample),
      el("div", { class: "pair pair-wide" }, confidence.node, detect.node),
    ),
  );
}

/** @param {any} plan @returns {[string, import("../parts/dom.js").Children][]} */
function facts(plan) {
  return [
    [text.once, plural(plan.unexplained_straws, "straw")],
    [text.year, plural(plan.unexplained_straws_a_year, "straw")],
    [text.every, plural(plan.count_every_days, "day")],
    [`${text.sample}: ${text.confidence.toLowerCase()}`, `${showNumber(plan.confidence_percent)} %`],
    [text.detect, `${showNumber(plan.detect_percent)} %`],
  ];
}

export default async function stockTakePlanPage() {
  return planPage({
    path: "/stock-take-plan",
    key: "stock-take-plan",
    title: text.title,
    lead: text.lead,
    readOnly: text.readOnly,
    back: text.back,
    fields,
    layout,
    facts,
  });
}
