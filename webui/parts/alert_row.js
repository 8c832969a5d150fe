/** An alert in a list: how it presses by word, shape and colour; what is the case; who sees to it. */

import { takeCare } from "../net/alerts.js";
import { iMay, moment, person } from "../net/session.js";
import { asks, PRIORITIES, STATES, titleOf } from "../logic/alerts.js";
import { plural } from "../logic/numbers.js";
import { showAge } from "../logic/times.js";
import { el, show } from "./dom.js";
import { toast } from "./live.js";
import { inWords } from "./problem.js";

const text = {
  take: "I take care of it",
  takeName: (/** @type {any} */ one) => `I take care of it: ${titleOf(one)}`,
  sending: "Sending …",
  again: "Try again",
  taken: "You take care of it. Nobody is told of it any more while it stays as it is.",
  byYou: (/** @type {string} */ when) => `You take care of it since ${when}.`,
  by: (/** @type {string} */ who, /** @type {string} */ when) =>
    `${who} takes care of it since ${when}.`,
  gone: (/** @type {string} */ when) =>
    `The cause is gone since ${when}, and nobody has looked at it.`,
  aside: (/** @type {any} */ one) =>
    `Put aside by ${one.shelved_by} until ${moment(one.shelved_until)}: ${one.shelf_reason}`,
  over: (/** @type {string} */ when) => `Over since ${when}.`,
  look: "Somebody has to look into the tank before this ends.",
  since: (/** @type {string} */ when) => `Since ${when}`,
  back: (/** @type {number} */ times) => `, came back ${plural(times - 1, "time")}`,
};

/** The word of how it presses, with a shape of its own. @param {any} alert */
export function priorityWord(alert) {
  return el(
    "span",
    { class: `alert-word alert-word-${alert.priority}` },
    el("span", { class: "alert-shape", "aria-hidden": "true" }, el("span", {}, "!")),
    PRIORITIES[/** @type {import("../logic/alerts.js").Priority} */ (alert.priority)],
  );
}

/** How it stands, with names. @param {any} alert @returns {string} */
export function standsInWords(alert) {
  switch (alert.state) {
    case "acknowledged": {
      const when = moment(alert.acknowledged_at);
      return alert.acknowledged_by_id === person()?.id
        ? text.byYou(when)
        : text.by(alert.acknowledged_by, when);
    }
    case "cleared-unseen":
      return text.gone(moment(alert.cleared_at));
    case "shelved":
      return text.aside(alert);
    case "closed":
      return text.over(moment(alert.closed_at));
    default:
      return `${STATES.open}.`;
  }
}

/** @param {any} alert */
export function sinceWhen(alert) {
  return text.since(moment(alert.opened_at)) + (alert.times > 1 ? text.back(alert.times) : "");
}

/** @param {any} alert */
function standing(alert) {
  return el(
    "div",
    { class: "alert-stands" },
    alert.state !== "open" &&
      el("p", { tabindex: "-1", "data-stays": `stands:${alert.id}` }, standsInWords(alert)),
    alert.inspection_needed && alert.state !== "closed" && el("p", {}, text.look),
    asks(alert) && iMay("book") && takeButton(alert),
  );
}

/** @param {any} alert */
function takeButton(alert) {
  const button = el(
    "button",
    {
      type: "button",
      class: "button button-take",
      "data-stays": `take:${alert.id}`,
      "aria-label": text.takeName(alert),
    },
    text.take,
  );
  const said = el("p", { class: "field-error", hidden: true });
  button.addEventListener("click", async () => {
    button.disabled = true;
    button.textContent = text.sending;
    try {
      taken(button, await takeCare(alert.id));
    } catch (problem) {
      button.disabled = false;
      button.textContent = text.again;
      said.hidden = false;
      show(said, inWords(problem).what);
    }
  });
  return [button, said];
}

/** The row stays where it is and says who has it now. @param {HTMLElement} button @param {any} now */
function taken(button, now) {
  const place = button.closest(".alert-stands");
  const stands = standing(now);
  place?.replaceWith(stands);
  /** @type {HTMLElement|null} */ (stands.querySelector("[data-stays]"))?.focus({
    preventScroll: true,
  });
  if (now.acknowledged_by_id === person()?.id) toast(text.taken);
}

/** @param {any} alert */
export function alertRow(alert) {
  return el(
    "div",
    { class: `alert alert-${asks(alert) ? alert.priority : "known"}` },
    el(
      "p",
      { class: "alert-head" },
      priorityWord(alert),
      el("span", { class: "alert-since" }, showAge(alert.opened_at, new Date())),
    ),
    el(
      "a",
      { class: "alert-title", href: `#/alerts/${alert.id}`, "data-stays": `see:${alert.id}` },
      titleOf(alert),
    ),
    // Of what somebody has in hand the heading is enough.
    asks(alert) && [el("p", {}, alert.words), el("p", { class: "alert-since" }, sinceWhen(alert))],
    standing(alert),
  );
}
