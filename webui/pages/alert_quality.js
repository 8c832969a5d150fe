/** How good our alerts are: one that nobody acts on teaches people to look away. */

import { get, search } from "../net/api.js";
import { moment } from "../net/session.js";
import { showMinutes } from "../logic/alerts.js";
import { plural, showNumber } from "../logic/numbers.js";
import { link } from "../logic/routes.js";
import { el } from "../parts/dom.js";
import { badge, empty, factList, page, section } from "../parts/page.js";

const text = {
  title: "How good are our alerts?",
  lead: "An alert that nobody acts on teaches people to look away. A limit that tells too often is better changed.",
  back: { href: "#/alerts", text: "Alerts" },
  span: "Of how many days",
  days: [30, 90, 365],
  daysName: (/** @type {number} */ days) => `${days} days`,
  sum: (/** @type {any} */ q) =>
    `${plural(q.alerts, "alert")} and ${plural(q.messages, "message")} since ${moment(q.since)}.`,
  none: "There was no alert in this time. When there are some, it stands here how soon somebody took care of them, and whether they led to something.",
  goals: "What is aimed at",
  goal: (/** @type {string} */ goal) => `Goal: ${goal}`,
  met: "✓ met",
  missed: "! not met",
  open: "not known yet",
  source: "The goals are practice guidance on ISA-18.2, a standard for alarms, and our own choice.",
  kinds: "By kind",
  columns: [
    "What it told of",
    "How many",
    "Until somebody took care: half of them within",
    "The longest",
    "Came and went unseen",
    "Came back",
    "Led to an act",
  ],
};

/** @param {number} chosen */
function spans(chosen) {
  return el(
    "nav",
    { class: "spans", "aria-label": text.span },
    text.days.map((days) =>
      el(
        "a",
        {
          class: "button",
          href: link("/alerts/quality", { days }),
          "aria-current": days === chosen ? "page" : null,
        },
        text.daysName(days),
      ),
    ),
  );
}

/** @param {any} one */
function goal(one) {
  const [words, kind] =
    one.met === null ? [text.open, "plain"] : one.met ? [text.met, "good"] : [text.missed, "warn"];
  return el(
    "li",
    { class: `goal goal-${kind}` },
    el("strong", {}, one.name),
    el("span", { class: "goal-value" }, showNumber(one.value)),
    el("span", {}, text.goal(one.goal)),
    badge(words, /** @type {"plain"|"good"|"warn"} */ (kind)),
  );
}

/** @param {any} one */
function cells(one) {
  return [
    String(one.alerts),
    showMinutes(one.median_minutes_to_acknowledge),
    showMinutes(one.longest_minutes_to_acknowledge),
    String(one.came_and_went_unseen),
    String(one.came_back),
    String(one.led_to_an_act),
  ];
}

/** Where a table has no room. @param {any[]} kinds */
function list(kinds) {
  const names = text.columns.slice(1);
  return el(
    "div",
    { class: "kinds-list" },
    kinds.map((one) => [
      el("h3", {}, one.title),
      factList(cells(one).map((cell, i) => [names[i], cell])),
    ]),
  );
}

/** @param {any[]} kinds */
function table(kinds) {
  return el(
    "div",
    { class: "kinds-table" },
    el(
      "table",
      { class: "table" },
      el("caption", { class: "unseen" }, text.kinds),
      el(
        "thead",
        {},
        el(
          "tr",
          {},
          text.columns.map((one) => el("th", { scope: "col" }, one)),
        ),
      ),
      el(
        "tbody",
        {},
        kinds.map((one) =>
          el(
            "tr",
            {},
            el("th", { scope: "row" }, one.title),
            cells(one).map((cell) => el("td", {}, cell)),
          ),
        ),
      ),
    ),
  );
}

/** @param {import("../parts/page.js").Context} context */
export default async function alertQuality({ query }) {
  const asked = Number(query.get("days"));
  const days = text.days.includes(asked) ? asked : 90;
  const found = await get(`/alerts/quality${search({ days })}`);
  return page(
    { title: text.title, lead: text.lead, back: text.back, kind: "page-wide" },
    spans(days),
    found.alerts
      ? [
          el("p", {}, text.sum(found)),
          section(
            text.goals,
            el("ul", { class: "goals" }, found.goals.map(goal)),
            el("p", { class: "hint" }, text.source),
          ),
          section(text.kinds, table(found.kinds), list(found.kinds)),
        ]
      : empty(text.none),
  );
}
