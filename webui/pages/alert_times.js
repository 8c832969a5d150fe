/** When messages go out, and from where on something is told. */

import { alertPlanPage } from "../parts/alert_plan.js";
import { el } from "../parts/dom.js";
import { numberField, textField } from "../parts/fields.js";

const text = {
  title: "Times and limits",
  lead: "When messages go out, and how much is too much.",
  digest: "Daily summary at",
  digestHint: "On the station’s clock. It comes every day, also when all is well.",
  quiet: "Quiet hours",
  quietHint:
    "Then only critical alerts are sent; the others wait until the end. Leave both empty for none.",
  from: "From",
  until: "Until",
  straws: "Straws may be out of the tank for",
  strawsHint: "Longer, with nothing recorded, is told.",
  hours: "hours",
  ahead: "A stallion is told when he runs out within",
  aheadHint: "By the forecast from how his doses were used.",
  days: "days",
  none: "none",
  span: (/** @type {any} */ plan) => `${plan.quiet_from} to ${plan.quiet_until}`,
};

/** @param {string} name @param {string} label @param {any} plan @param {Record<string, any>} more */
function time(name, label, plan, more = {}) {
  return textField({
    name,
    label,
    value: plan[name] ?? undefined,
    props: { type: "time" },
    ...more,
  });
}

/** @param {any} plan */
function fields(plan) {
  const amount = { required: true, whole: true, least: 1 };
  return [
    time("digest_at", text.digest, plan, { hint: text.digestHint, required: true }),
    time("quiet_from", text.from, plan),
    time("quiet_until", text.until, plan),
    numberField({
      name: "straws_out_hours",
      label: text.straws,
      hint: text.strawsHint,
      unit: text.hours,
      value: plan.straws_out_hours,
      most: 168,
      ...amount,
    }),
    numberField({
      name: "run_out_days",
      label: text.ahead,
      hint: text.aheadHint,
      unit: text.days,
      value: plan.run_out_days,
      most: 730,
      ...amount,
    }),
  ];
}

/** @param {import("../parts/fields.js").Field[]} fields */
function layout([digest, from, until, straws, ahead]) {
  return el(
    "div",
    { class: "form-part" },
    digest.node,
    el(
      "fieldset",
      { class: "fieldset" },
      el("legend", {}, text.quiet),
      el("p", { class: "hint" }, text.quietHint),
      el("div", { class: "pair" }, from.node, until.node),
    ),
    straws.node,
    ahead.node,
  );
}

export default async function alertTimes() {
  return alertPlanPage({
    key: "alert-times",
    title: text.title,
    lead: text.lead,
    fields,
    layout,
    mine: (values) => ({ quiet_from: null, quiet_until: null, ...values }),
    facts: (plan) => [
      [text.digest, plan.digest_at],
      [text.quiet, plan.quiet_from ? text.span(plan) : text.none],
      [text.straws, `${plan.straws_out_hours} ${text.hours}`],
      [text.ahead, `${plan.run_out_days} ${text.days}`],
    ],
  });
}
