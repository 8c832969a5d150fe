/** One alert: what is the case, what to do, who takes care of it. Opening it changes nothing. */

import { levelChart } from "../charts/levels.js";
import { get, search } from "../net/api.js";
import { iMay, moment } from "../net/session.js";
import { asks, titleOf } from "../logic/alerts.js";
import { deliveryInWords, factsInWords, happenedInWords, waysFor } from "../logic/alert_facts.js";
import { asidePart, careBar, inspectionPart } from "../parts/alert_care.js";
import { priorityWord, sinceWhen, standsInWords } from "../parts/alert_row.js";
import { lookAgain } from "../parts/again.js";
import { el, show } from "../parts/dom.js";
import { refresh } from "../parts/go.js";
import { announce } from "../parts/live.js";
import { empty, factList, linkButton, page, section } from "../parts/page.js";
import { runOutPart } from "../parts/run_out.js";

const text = {
  back: { href: "#/alerts", text: "Alerts" },
  todo: "What to do",
  means: "What it means",
  howLong: "How long there is",
  facts: "In figures",
  levels: "Litres in the tank",
  levelsHint:
    "The line is what was read; triangles are top-ups. Dashed and shaded: the forecast if nobody fills it.",
  told: "Who was told",
  nobody: "Nobody was sent a message of it. It is seen here only.",
  again: (/** @type {string} */ when) => `If nobody takes care of it, more are told on ${when}.`,
  history: "What happened",
  service: "Rimebook",
  quoted: (/** @type {string} */ note) => `“${note}”`,
  toldTo: (/** @type {string} */ names) => `by ${names}`,
  meanwhile: "Meanwhile:",
  reload: "Show it as it is now",
};

/** @param {any} alert */
function standing(alert) {
  const kind =
    alert.state === "closed" || alert.state === "acknowledged"
      ? "alert-now-good"
      : alert.priority === "critical"
        ? "alert-now-critical"
        : "";
  return el(
    "section",
    { class: `alert-now ${kind}`, "aria-label": standsInWords(alert) },
    priorityWord(alert),
    el("p", { class: "alert-case" }, alert.words),
    el("p", {}, el("strong", {}, standsInWords(alert))),
    el("p", { class: "alert-since" }, sinceWhen(alert)),
  );
}

/** @param {any} alert */
function card(alert) {
  const { card: one } = alert;
  return [
    section(
      text.todo,
      el(
        "ol",
        { class: "steps" },
        one.what_to_do.map((/** @type {string} */ step) => el("li", {}, step)),
      ),
      one.caution && el("p", { class: "caution" }, one.caution),
      el("p", {}, el("strong", {}, `${text.howLong}: `), one.how_long),
      el(
        "p",
        { class: "ways" },
        waysFor(alert, iMay("book")).map((way) => linkButton(way)),
        asidePart(alert),
      ),
    ),
    section(text.means, el("p", {}, one.means)),
  ];
}

/** A picture of what it is about; null where there is none, or the thing is gone. @param {any} alert */
async function picture(alert) {
  const { subject_kind: kind, subject_id: id, subject } = alert;
  try {
    if (kind === "tank") {
      const history = await get(`/tanks/${id}/nitrogen/history${search({ days: 365 })}`);
      if (!history.readings.length) return null;
      return section(
        text.levels,
        levelChart(history, subject),
        el("p", { class: "hint" }, text.levelsHint),
      );
    }
    if (kind !== "stallion") return null;
    const [forecast, stallion] = await Promise.all([
      get(`/stallions/${id}/run-out`),
      get(`/stallions/${id}`),
    ]);
    return runOutPart(forecast, { name: subject, limit: stallion.low_stock_doses });
  } catch {
    return null; // what is the case is said without a picture, too
  }
}

/** @param {any} alert */
function told(alert) {
  return section(
    text.told,
    alert.delivered.length
      ? factList(
          alert.delivered.map((/** @type {any} */ one) => [
            one.channel,
            deliveryInWords(one, moment),
          ]),
        )
      : empty(text.nobody),
    alert.state === "open" &&
      alert.delivered.length > 0 &&
      alert.tell_at &&
      el("p", { class: "hint" }, text.again(moment(alert.tell_at))),
  );
}

/** @param {any} event */
function happened(event) {
  const note = event.note && (event.what === "told" ? text.toldTo(event.note) : event.note);
  return el(
    "li",
    {},
    el("span", { class: "what" }, happenedInWords(event)),
    note && el("span", {}, event.by ? text.quoted(note) : note),
    el("span", { class: "who" }, `${moment(event.at)}, ${event.by ?? text.service}`),
  );
}

/** Says when somebody was quicker while this page stood open. @param {any} alert @param {HTMLElement} place @param {AbortSignal} signal */
function watchIt(alert, place, signal) {
  const print = (/** @type {any} */ one) => [one.state, one.words, one.acknowledged_at].join();
  let said = print(alert);
  lookAgain(signal, {
    load: () => get(`/alerts/${alert.id}`, { signal }),
    draw: (now) => {
      if (print(now) === said) return;
      said = print(now);
      const button = el("button", { type: "button", class: "button" }, text.reload);
      button.addEventListener("click", refresh);
      const words = asks(now) ? now.words : standsInWords(now);
      show(
        place,
        el("div", { class: "notice" }, el("p", {}, `${text.meanwhile} ${words}`), button),
      );
      announce(words);
    },
  });
}

/** @param {import("../parts/page.js").Context} context */
export default async function alertPage({ params, signal }) {
  const alert = await get(`/alerts/${encodeURIComponent(params.id)}`);
  const news = el("div", { class: "now-line" });
  if (alert.state !== "closed") watchIt(alert, news, signal);
  const facts = factsInWords(alert, moment);
  return page(
    { title: titleOf(alert), back: text.back },
    news,
    standing(alert),
    careBar(alert),
    inspectionPart(alert),
    card(alert),
    facts.length > 0 && section(text.facts, factList(facts)),
    await picture(alert),
    told(alert),
    section(text.history, el("ul", { class: "history" }, alert.history.map(happened))),
  );
}
