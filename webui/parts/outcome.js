/** Recording whether a mare is pregnant. A later check stands beside an earlier one. */

import { sendAct } from "../net/acts.js";
import { today } from "../net/session.js";
import { choiceField, dayField } from "./fields.js";
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
