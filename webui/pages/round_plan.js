/** How the rounds are made: fill days, how sure, the supply vessel and its deliveries. */

import { call } from "../net/api.js";
import { iMay } from "../net/session.js";
import { showNumber } from "../logic/numbers.js";
import { showDay } from "../logic/times.js";
import { readVersion } from "../parts/conflict.js";
import { el } from "../parts/dom.js";
import { areaField, dayField, numberField, tickField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { factList, page } from "../parts/page.js";

const DAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"];

const text = {
  title: "Fill days, supply and deliveries",
  back: { href: "#/round", text: "The next rounds" },
  days: "Tanks are filled on",
  confidence: "No tank below its minimum, with so many %",
  every: "A level is read at least every so many days",
  capacity: "The supply vessel holds, litres",
  litres: "It held, litres",
  on: "On the day",
  loss: "It loses by itself, litres a day",
  deliveries: "Deliveries",
  deliveriesHint: "One a line: the day and the litres, as 2026-12-07 120",
  badDelivery: (/** @type {string} */ line) => `“${line}” is not a day and litres, as 2026-12-07 120.`,
  save: "Save",
  saved: "Saved.",
  delivery: (/** @type {any} */ one) => `${showDay(one.on)}: ${showNumber(one.litres)} litres`,
};

/** @param {any} plan */
function planFields(plan) {
  const days = DAYS.map((name, i) =>
    tickField({ name: `day_${i}`, label: name, value: plan.fill_weekdays.includes(i) ? "yes" : "" }),
  );
  const number = (/** @type {string} */ name, /** @type {string} */ label, options = {}) =>
    numberField({ name, label, value: plan[name] ?? "", ...options });
  const lines = plan.deliveries.map((/** @type {any} */ one) => `${one.on} ${one.litres}`).join("\n");
  return {
    days,
    others: [
      number("confidence_percent", text.confidence, { required: true }),
      number("level_every_days", text.every, { required: true, whole: true, least: 1 }),
      number("supply_capacity_litres", text.capacity),
      number("supply_litres", text.litres),
      dayField({ name: "supply_measured_on", label: text.on, value: plan.supply_measured_on ?? "" }),
      number("supply_loss_litres_per_day", text.loss),
      areaField({ name: "deliveries", label: text.deliveries, hint: text.deliveriesHint, value: lines }),
    ],
  };
}

/** @param {any} values */
function planOf(values) {
  const fill_weekdays = DAYS.map((_, i) => i).filter((i) => values[`day_${i}`]);
  const kept = Object.fromEntries(Object.entries(values).filter(([name]) => !name.startsWith("day_")));
  const deliveries = String(values.deliveries ?? "")
    .split("\n")
    .map((line) => line.trim())
    .filter(Boolean)
    .map((line) => {
      const [on, litres] = line.split(/\s+/);
      return { on, litres: Number(litres?.replace(",", ".")) };
    });
  return {
    supply_capacity_litres: null,
    supply_litres: null,
    supply_measured_on: null,
    supply_loss_litres_per_day: null,
    ...kept,
    fill_weekdays,
    deliveries,
  };
}

/** @param {any} plan */
function shown(plan) {
  return factList([
    [text.days, plan.fill_weekdays.map((/** @type {number} */ i) => DAYS[i]).join(", ")],
    [text.confidence, `${showNumber(plan.confidence_percent)} %`],
    [text.every, String(plan.level_every_days)],
    [text.capacity, plan.supply_capacity_litres !== null && showNumber(plan.supply_capacity_litres)],
    [text.litres, plan.supply_litres !== null && showNumber(plan.supply_litres)],
    [text.on, plan.supply_measured_on && showDay(plan.supply_measured_on)],
    [text.loss, plan.supply_loss_litres_per_day !== null && showNumber(plan.supply_loss_litres_per_day)],
    [text.deliveries, plan.deliveries.length > 0 && plan.deliveries.map(text.delivery).join(", ")],
  ]);
}

export default async function roundPlanPage() {
  const path = "/nitrogen/plan";
  const first = await call("GET", path);
  const frame = { title: text.title, back: text.back };
  if (!iMay("manage")) return page(frame, shown(first.data));
  const { days, others } = planFields(first.data);
  const fields = [...days, ...others];
  const record = readVersion({ path, first, fields, mine: planOf });
  const built = form({
    key: "round-plan",
    draft: false,
    fields: () => fields,
    body: [
      el("fieldset", { class: "field choices" }, el("legend", {}, text.days), days.map((one) => one.node)),
      others.map((one) => one.node),
    ],
    submit: text.save,
    send: async (values) => {
      const bad = String(values.deliveries ?? "")
        .split("\n")
        .find((line) => line.trim() && !/^\s*\d{4}-\d\d-\d\d\s+\d+([.,]\d+)?\s*$/.test(line));
      if (bad) {
        others[others.length - 1].complain(text.badDelivery(bad.trim()));
        return false;
      }
      await record.send(values);
      toast(text.saved);
      go(text.back.href);
      return true;
    },
    refused: (problem) => record.refused(problem, built.said),
  });
  return page(frame, built.node);
}
