/** How the rounds are made: fill days, how sure, the supply vessel and its deliveries. */

import { WEEKDAYS } from "../logic/duty.js";
import { showNumber } from "../logic/numbers.js";
import { showWeekday } from "../logic/times.js";
import { el } from "../parts/dom.js";
import { dayField, numberField } from "../parts/fields.js";
import { planPage } from "../parts/plan_page.js";
import { deliveriesField, weekdaysField } from "../parts/plan_fields.js";

const text = {
  title: "Fill days, supply and deliveries",
  lead: "What the next rounds are made of. A change holds at once.",
  readOnly: "Managers change this.",
  back: { href: "#/round", text: "The next rounds" },
  rounds: "Rounds",
  days: "Tanks are filled on",
  confidence: "How sure each tank is to stay above its minimum",
  confidenceHint: "50 to 99.9. A higher figure means earlier visits; 95 is our own choice.",
  every: "A level is read at least every",
  everyHint:
    "Later than that, a reading is overdue. Weekly reading cannot catch a vacuum lost in hours.",
  vessel: "Supply vessel",
  vesselHint: "Leave all of it empty when nitrogen is not kept here.",
  capacity: "It holds",
  litres: "It held when it was last read",
  on: "Read on",
  onHint: "In the evening, after all that was taken and delivered that day. Empty: today.",
  loss: "It loses by itself",
  litresUnit: "litres",
  deliveries: "Deliveries",
  delivery: (/** @type {any} */ one) => `${showWeekday(one.on)}: ${showNumber(one.litres)} litres`,
  none: "none is entered",
  saved: "Saved. The rounds are made anew.",
  everyDays: (/** @type {number} */ days) => `${days} days`,
};

const EMPTY = {
  supply_capacity_litres: null,
  supply_litres: null,
  supply_measured_on: null,
  supply_loss_litres_per_day: null,
};

/** @param {any} plan */
function fields(plan) {
  const number = (
    /** @type {string} */ name,
    /** @type {string} */ label,
    /** @type {Record<string, any>} */ more,
  ) => numberField({ name, label, value: plan[name] ?? undefined, ...more });
  const litres = { unit: text.litresUnit, most: 1_000_000 };
  return [
    weekdaysField(plan.fill_weekdays),
    number("confidence_percent", text.confidence, {
      hint: text.confidenceHint,
      unit: "%",
      required: true,
      least: 50,
      most: 99.9,
    }),
    number("level_every_days", text.every, {
      hint: text.everyHint,
      unit: "days",
      required: true,
      whole: true,
      least: 1,
      most: 90,
    }),
    number("supply_capacity_litres", text.capacity, { ...litres, moreThan: 0 }),
    number("supply_litres", text.litres, { ...litres, least: 0 }),
    dayField({
      name: "supply_measured_on",
      label: text.on,
      hint: text.onHint,
      value: plan.supply_measured_on ?? undefined,
    }),
    number("supply_loss_litres_per_day", text.loss, {
      ...litres,
      unit: "litres a day",
      least: 0,
    }),
    deliveriesField(plan.deliveries),
  ];
}

/**
 * The whole plan as typed. A content without its day is of today: then the day is left to the
 * service.
 * @param {any} values
 */
function planOf(values) {
  const whole = { ...EMPTY, ...values };
  if (whole.supply_litres !== null && whole.supply_measured_on === null)
    delete whole.supply_measured_on;
  return whole;
}

/** @param {import("../parts/fields.js").Field[]} fields */
function layout([days, confidence, every, capacity, held, on, loss, deliveries]) {
  return el(
    "div",
    { class: "form-part" },
    days.node,
    el("div", { class: "pair pair-wide" }, confidence.node, every.node),
    el(
      "fieldset",
      { class: "fieldset" },
      el("legend", {}, text.vessel),
      el("p", { class: "hint" }, text.vesselHint),
      el("div", { class: "pair pair-wide" }, capacity.node, loss.node),
      el("div", { class: "pair pair-wide" }, held.node, on.node),
    ),
    deliveries.node,
  );
}

/** @param {any} plan @returns {[string, import("../parts/dom.js").Children][]} */
function facts(plan) {
  const litres = (/** @type {number|null} */ value) =>
    value !== null && `${showNumber(value)} litres`;
  return [
    [text.days, plan.fill_weekdays.map((/** @type {number} */ i) => WEEKDAYS[i]).join(", ")],
    [text.confidence, `${showNumber(plan.confidence_percent)} %`],
    [text.every, text.everyDays(plan.level_every_days)],
    [`${text.vessel}: ${text.capacity}`, litres(plan.supply_capacity_litres)],
    [text.litres, litres(plan.supply_litres)],
    [text.on, plan.supply_measured_on && showWeekday(plan.supply_measured_on)],
    [text.loss, litres(plan.supply_loss_litres_per_day)],
    [
      text.deliveries,
      plan.deliveries.length
        ? el(
            "ul",
            {},
            plan.deliveries.map((/** @type {any} */ one) => el("li", {}, text.delivery(one))),
          )
        : text.none,
    ],
  ];
}

export default async function roundPlanPage() {
  return planPage({
    path: "/nitrogen/plan",
    key: "round-plan",
    title: text.title,
    lead: text.lead,
    readOnly: text.readOnly,
    back: text.back,
    saved: text.saved,
    mine: planOf,
    fields,
    layout,
    facts,
  });
}
