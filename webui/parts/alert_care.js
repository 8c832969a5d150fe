/** What a person does with an alert: take care of it, put it aside, take it down, say what was found. */

import { post } from "../net/api.js";
import { newId, sendAct } from "../net/acts.js";
import { takeCare } from "../net/alerts.js";
import { iMay, person } from "../net/session.js";
import { asks } from "../logic/alerts.js";
import { dialog } from "./dialog.js";
import { el } from "./dom.js";
import { areaField, momentField, suggestField } from "./fields.js";
import { form } from "./form.js";
import { refresh } from "./go.js";
import { toast } from "./live.js";
import { disclosure, section } from "./page.js";
import { standsInWords } from "./alert_row.js";

const text = {
  take: "I take care of it",
  addNote: "Say something with it",
  note: "What the others should know",
  noteHint: "It stands in the history, such as “on my way”.",
  taken: "You take care of it. Nobody is told of it any more while it stays as it is.",
  aside: "Put aside for a while",
  asideLead: "Nobody is told until then. It stays in the daily summary.",
  until: "Until when",
  untilHint: "At most 24 hours from now.",
  why: "Why",
  whys: ["It is known, the part is ordered", "The delivery comes tomorrow", "Being repaired"],
  asideDone: "Put aside.",
  down: "Take it down now",
  downDone: "It is told again as before.",
  inspection: "What did you find in the tank?",
  inspectionLead:
    "Half of the minimum or less was measured: straws may have stood above the liquid. This alert stays until somebody has looked.",
  found: "What you found",
  foundHint: "Which goblets stood above the liquid, for how long, and what you did with them.",
  inspect: "This is what I found",
  inspected: "Kept in the history.",
};

const HOURS_ASIDE = 12;

/** Somebody else may have been first: then their name stands. @param {any} now */
function tell(now) {
  const mine = now.acknowledged_by_id === person()?.id;
  toast(mine ? text.taken : standsInWords(now), mine ? "done" : "check");
}

/** The big button, at thumb height on a phone; null for whom it is not. @param {any} alert */
export function careBar(alert) {
  if (!asks(alert) || !iMay("book")) return null;
  const note = areaField({ name: "note", label: text.note, hint: text.noteHint });
  const more = disclosure(text.addNote, note.node);
  const built = form({
    key: `care:${alert.id}`,
    draft: false,
    fields: () => [note],
    body: more,
    submit: text.take,
    send: async (values) => {
      tell(await takeCare(alert.id, values));
      refresh();
    },
    refused: (problem) => {
      if (problem.code !== "alert-closed") return false;
      toast(problem.message, "check");
      refresh();
      return true;
    },
  });
  return el("div", { class: "care" }, built.node);
}

/** What a manager may do besides; never for a critical one. @param {any} alert */
export function asidePart(alert) {
  if (!iMay("manage") || alert.state === "closed") return null;
  if (alert.state === "shelved") return downButton(alert);
  if (alert.priority === "critical") return null;
  const button = el("button", { type: "button", class: "button" }, text.aside);
  button.addEventListener("click", () => askAside(alert));
  return button;
}

/** @param {any} alert */
function askAside(alert) {
  const until = momentField({
    name: "until",
    label: text.until,
    hint: text.untilHint,
    required: true,
    value: new Date(Date.now() + HOURS_ASIDE * 36e5).toISOString(),
  });
  const reason = suggestField({
    name: "reason",
    label: text.why,
    required: true,
    suggestions: text.whys,
  });
  const id = newId();
  return dialog(text.aside, (close) => {
    const built = form({
      key: `aside:${alert.id}`,
      draft: false,
      fields: () => [until, reason],
      body: [el("p", {}, text.asideLead), until.node, reason.node],
      submit: text.aside,
      send: async (values) => {
        await post(`/alerts/${alert.id}/shelve`, { id, ...values });
        close();
        toast(text.asideDone);
        refresh();
      },
    });
    return built.node;
  });
}

/** @param {any} alert */
function downButton(alert) {
  const button = el("button", { type: "button", class: "button" }, text.down);
  button.addEventListener("click", async () => {
    button.disabled = true;
    try {
      await sendAct(`down:${alert.id}`, `/alerts/${alert.id}/take-down`, {});
      toast(text.downDone);
      refresh();
    } catch (problem) {
      button.disabled = false;
      toast(/** @type {any} */ (problem).message, "check");
    }
  });
  return button;
}

/** @param {any} alert */
export function inspectionPart(alert) {
  if (!alert.inspection_needed || alert.state === "closed") return null;
  if (!iMay("book")) return section(text.inspection, el("p", {}, text.inspectionLead));
  const found = areaField({
    name: "found",
    label: text.found,
    hint: text.foundHint,
    required: true,
  });
  const built = form({
    key: `inspection:${alert.id}`,
    fields: () => [found],
    body: [el("p", {}, text.inspectionLead), found.node],
    submit: text.inspect,
    send: async (values) => {
      await sendAct(`inspection:${alert.id}`, `/alerts/${alert.id}/inspection`, values);
      toast(text.inspected);
      refresh();
    },
  });
  return section(text.inspection, built.node);
}
