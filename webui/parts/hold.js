/** Holding a batch back from every plan, and releasing it again. */

import { sendAct } from "../net/acts.js";
import { iMay } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { showDay } from "../logic/times.js";
import { el } from "./dom.js";
import { dayField, textField } from "./fields.js";
import { form } from "./form.js";
import { refresh } from "./go.js";
import { toast } from "./live.js";
import { disclosure, section } from "./page.js";

const text = {
  title: "Hold",
  held: (/** @type {any} */ b) =>
    `On hold${b.hold_until ? ` until ${showDay(b.hold_until)}` : ""}: ${b.hold_reason ?? "no reason given"}.`,
  free: "Not on hold: doses may be planned from it.",
  onlyVet: "A vet or a manager can release it.",
  hold: "Hold this batch",
  release: "Release this batch",
  reason: "Reason",
  until: "Until",
  untilHint: "Leave empty to hold it until somebody releases it.",
  holdDone: "The batch is on hold.",
  quarantine: (/** @type {number} */ straws) =>
    `${plural(straws, "straw")} of it stand in a quarantine tank and stay out of the plans until they are moved.`,
  releaseDone: "The batch is released.",
};

/** @param {any} batch */
function holdForm(batch) {
  const fields = [
    textField({ name: "reason", label: text.reason, required: true }),
    dayField({ name: "until", label: text.until, hint: text.untilHint }),
  ];
  return actForm(batch, { act: "hold", fields, submit: text.hold, done: text.holdDone });
}

/** @param {any} batch */
function releaseForm(batch) {
  const fields = [textField({ name: "reason", label: text.reason, required: true })];
  return actForm(batch, { act: "release", fields, submit: text.release, done: text.releaseDone });
}

/** @param {any} batch @param {{act: string, fields: import("./fields.js").Field[], submit: string, done: string}} spec */
function actForm(batch, { act, fields, submit, done }) {
  const key = `${act}:${batch.id}`;
  return form({
    key,
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit,
    send: async (values) => {
      const { data } = await sendAct(key, `/batches/${batch.id}/${act}`, values);
      const kept = data.straws_in_quarantine ?? 0;
      if (kept) toast(`${done} ${text.quarantine(kept)}`, "check");
      else toast(done);
      refresh();
    },
  }).node;
}

/** @param {any} batch */
export function holdPart(batch) {
  if (batch.on_hold) {
    return section(
      text.title,
      el("p", {}, text.held(batch)),
      iMay("release-hold")
        ? disclosure(text.release, releaseForm(batch))
        : iMay("book") && el("p", { class: "hint" }, text.onlyVet),
    );
  }
  return section(
    text.title,
    el("p", {}, text.free),
    iMay("book") && disclosure(text.hold, holdForm(batch)),
  );
}
