/** Holding a batch back, and releasing it again. */

import { sendAct } from "../net/acts.js";
import { iMay } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { showDay } from "../logic/times.js";
import { fullDayAhead, lackingNotice, tellBatch } from "./clearance.js";
import { dayShortcut } from "./day_shortcut.js";
import { el } from "./dom.js";
import { dayField, textField } from "./fields.js";
import { form } from "./form.js";
import { refresh } from "./go.js";
import { disclosure, section } from "./page.js";

const text = {
  title: "Hold",
  held: (/** @type {any} */ b) =>
    `On hold${b.hold_until ? ` until ${showDay(b.hold_until)}` : ""}: ${b.hold_reason ?? "no reason given"}.`,
  endsItself: (/** @type {any} */ b) =>
    `On ${showDay(b.hold_until)} it ends by itself, whatever the tests say. Hold the batch again without a day, and only a release ends it.`,
  free: "Not on hold: doses may be planned from it.",
  positive: (/** @type {string} */ tests) => `Positive: ${tests}.`,
  onlyVet: "A vet or a manager can release it.",
  hold: "Hold this batch",
  holdAgain: "Hold it again, for another reason or another day",
  release: "Release this batch",
  reason: "Reason",
  overrideReason: "Why it is released although a test is positive",
  until: "Until",
  untilHint: "Leave empty to hold it until somebody releases it.",
  fullDay: (/** @type {any} */ b) => `${plural(b.clearance.days_needed, "day")} from collection`,
  holdDone: "The batch is on hold.",
  quarantine: (/** @type {number} */ straws) =>
    `${plural(straws, "straw")} of it stand in a quarantine tank and stay out of the plans until they are moved.`,
  releaseDone: "The batch is released.",
};

/** @param {any} batch */
function positiveTests(batch) {
  return batch.clearance.tests
    .filter((/** @type {any} */ one) => one.result === "positive")
    .map((/** @type {any} */ one) => one.test);
}

/** @param {any} batch */
function holdForm(batch) {
  const until = dayField({ name: "until", label: text.until, hint: text.untilHint });
  const day = fullDayAhead(batch);
  if (day) dayShortcut(until, text.fullDay(batch), () => ({ day }));
  const fields = [textField({ name: "reason", label: text.reason, required: true }), until];
  return actForm(batch, { act: "hold", fields, submit: text.hold, done: text.holdDone });
}

/** @param {any} batch */
function releaseForm(batch) {
  const fields = [textField({ name: "reason", label: text.reason, required: true })];
  if (positiveTests(batch).length)
    fields.push(
      textField({ name: "override_reason", label: text.overrideReason, required: true }),
    );
  return [
    lackingNotice(batch.clearance),
    actForm(batch, { act: "release", fields, submit: text.release, done: text.releaseDone }),
  ];
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
      const quarantined = kept ? [{ message: text.quarantine(kept) }] : [];
      tellBatch(batch.id, done, [...quarantined, ...(data.warnings ?? [])]);
      refresh();
    },
  }).node;
}

/** @param {any} batch */
function standing(batch) {
  const positive = positiveTests(batch);
  return [
    positive.length > 0 &&
      el("p", { class: "notice notice-warn" }, text.positive(positive.join(", "))),
    el("p", {}, batch.on_hold ? text.held(batch) : text.free),
    batch.on_hold && batch.hold_until && el("p", { class: "hint" }, text.endsItself(batch)),
  ];
}

/** @param {any} batch */
export function holdPart(batch) {
  return section(
    text.title,
    standing(batch),
    batch.on_hold &&
      (iMay("release-hold")
        ? disclosure(text.release, ...releaseForm(batch))
        : iMay("book") && el("p", { class: "hint" }, text.onlyVet)),
    iMay("book") && disclosure(batch.on_hold ? text.holdAgain : text.hold, holdForm(batch)),
  );
}
