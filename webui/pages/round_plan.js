/** How the rounds are made: fill days, how sure, the supply vessel and its deliveries. */

import { call } from "../net/api.js";
import { iMay } from "../net/session.js";
import { WEEKDAYS } from "../logic/duty.js";
import { showNumber } from "../logic/numbers.js";
import { showWeekday } from "../logic/times.js";
import { changesPart } from "../parts/changes.js";
import { readVersion } from "../parts/conflict.js";
import { el } from "../parts/dom.js";
import { dayField, numberField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { factList, page } from "../parts/page.js";
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
  save: "Save",
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
function planFields(plan) {
  const number = (
    /** @type {string} */ name,
    /** @type {string} */ label,
    /** @type {Record<string, any>} */ more,
  ) => numberField({ name, label, value: plan[name] ?? undefined, ...more });
  const litres = { unit: text.litresUnit, most: 1_000_000 };
  return {
    days: weekdaysField(plan.fill_weekdays),
    confidence: number("confidence_percent", text.confidence, {
      hint: text.confidenceHint,
      unit: "%",
      required: true,
      least: 50,
      most: 99.9,
    }),
    every: number("level_every_days", text.every, {
      hint: text.everyHint,
      unit: "days",
      required: true,
      whole: true,
      least: 1,
      most: 90,
    }),
    capacity: number("supply_capacity_litres", text.capacity, { ...litres, moreThan: 0 }),
    held: number("supply_litres", text.litres, { ...litres, least: 0 }),
    on: dayField({
      name: "supply_measured_on",
      label: text.on,
      hint: text.onHint,
      value: plan.supply_measured_on ?? undefined,
    }),
    loss: number("supply_loss_litres_per_day", text.loss, {
      ...litres,
      unit: "litres a day",
      least: 0,
    }),
    deliveries: deliveriesField(plan.deliveries),
  };
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

/** @param {ReturnType<typeof planFields>} f */
function layout(f) {
  return el(
    "div",
    { class: "form-part" },
    f.days.node,
    el("div", { class: "pair pair-wide" }, f.confidence.node, f.every.node),
    el(
      "fieldset",
      { class: "fieldset" },
      el("legend", {}, text.vessel),
      el("p", { class: "hint" }, text.vesselHint),
      el("div", { class: "pair pair-wide" }, f.capacity.node, f.loss.node),
      el("div", { class: "pair pair-wide" }, f.held.node, f.on.node),
    ),
    f.deliveries.node,
  );
}

/** @param {any} plan */
function facts(plan) {
  const litres = (/** @type {number|null} */ value) =>
    value !== null && `${showNumber(value)} litres`;
  return factList([
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
  ]);
}

export default async function roundPlanPage() {
  const path = "/nitrogen/plan";
  const first = await call("GET", path);
  if (!iMay("manage"))
    return page(
      { title: text.title, lead: text.readOnly, back: text.back },
      facts(first.data),
      changesPart(path),
    );
  const f = planFields(first.data);
  const fields = Object.values(f);
  const record = readVersion({ path, first, fields, mine: planOf });
  const built = form({
    key: "round-plan",
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
  return page(
    { title: text.title, lead: text.lead, back: text.back },
    built.node,
    changesPart(path),
  );
}
