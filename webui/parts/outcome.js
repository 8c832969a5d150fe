/** What follows an insemination: its outcome, or taking the record back when it was a mistake. */

import { sendAct } from "../net/acts.js";
import { today } from "../net/session.js";
import { el } from "./dom.js";
import { choiceField, dayField, textField } from "./fields.js";
import { form } from "./form.js";
import { refresh } from "./go.js";
import { toast } from "./live.js";

const text = {
  day: "Checked on",
  result: "What the check found",
  yes: "Pregnant",
  no: "Not pregnant",
  submit: "Record the outcome",
  done: "The outcome is recorded.",
  correct: "Take this record back",
  correctHint:
    "For a record made by mistake. Its straws count as out again until you record what truly happened.",
  reason: "Reason",
  corrected: "The record is taken back. Its straws count as out again.",
};

/** @param {{id: string}} insemination */
export function outcomeForm(insemination) {
  const fields = [
    dayField({ name: "checked_on", label: text.day, required: true, value: today() }),
    choiceField({
      name: "pregnant",
      label: text.result,
      required: true,
      options: [
        { value: "yes", text: text.yes },
        { value: "no", text: text.no },
      ],
    }),
  ];
  const key = `outcome:${insemination.id}`;
  return form({
    key,
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit: text.submit,
    send: async (values) => {
      const body = { checked_on: values.checked_on, pregnant: values.pregnant === "yes" };
      await sendAct(key, `/inseminations/${insemination.id}/outcome`, body);
      toast(text.done);
      refresh();
    },
  }).node;
}

/** @param {{id: string}} insemination */
export function takeBackForm(insemination) {
  const reason = textField({ name: "reason", label: text.reason, required: true });
  const key = `correct-insemination:${insemination.id}`;
  return form({
    key,
    kind: "danger",
    submit: text.correct,
    fields: () => [reason],
    body: [el("p", { class: "hint" }, text.correctHint), reason.node],
    send: async (values) => {
      await sendAct(key, `/inseminations/${insemination.id}/correct`, values);
      toast(text.corrected);
      refresh();
    },
  }).node;
}
