/** What needs me now: the first thing on the first page. It looks again by itself. */

import { loadStanding } from "../net/alerts.js";
import { iMay, moment, person } from "../net/session.js";
import { sorted } from "../logic/alerts.js";
import { plural } from "../logic/numbers.js";
import { alertRow } from "./alert_row.js";
import { keepFocus, lookAgain } from "./again.js";
import { el, show } from "./dom.js";
import { announce } from "./live.js";
import { disclosure } from "./page.js";

const text = {
  title: "What needs somebody now",
  now: "For you now",
  nowRead: "Critical now",
  known: "Taken care of, not over yet",
  others: (/** @type {number} */ count) => `Others take care of (${count})`,
  well: "All is well.",
  none: "Nothing needs you now.",
  looked: (/** @type {string} */ when) => `Rimebook looked last on ${when}.`,
  more: (/** @type {number} */ count) => `and ${count} more`,
  several: "Take care of several at once",
  news: (/** @type {number} */ count) => `${plural(count, "new alert")}. Shown in a moment.`,
  silent: "Nobody is watching",
  silentSince: (/** @type {string} */ when) =>
    `Rimebook has not looked at tanks and stock since ${when}. Look at the tanks yourself, and tell whoever looks after this machine.`,
  silentNever:
    "Rimebook has never looked at tanks and stock. Look at the tanks yourself, and tell whoever looks after this machine.",
  lost: "No answer from the station's computer: what stands here may be old.",
  untold: "Nobody is told when you are not here.",
  untoldLink: "Set up how people are told",
  unreachable: (/** @type {string} */ name) =>
    `No message reaches ${name}, who is on duty. Others are told later.`,
  unreachableLink: "See the channels",
};

const MOST = 6;

/** @typedef {{alerts: any[], watch: any}} Standing */

/** @param {any} watch */
function silence(watch) {
  return (
    !watch.running &&
    el(
      "div",
      { class: "notice notice-bad notice-loud", role: "alert" },
      el("p", {}, el("strong", {}, text.silent)),
      el(
        "p",
        {},
        watch.last_run_at ? text.silentSince(moment(watch.last_run_at)) : text.silentNever,
      ),
    )
  );
}

/** For whoever can mend it. @param {any} watch */
function untold(watch) {
  if (!iMay("manage") || !(watch.nobody_to_tell || watch.duty_unreachable)) return null;
  const none = watch.nobody_to_tell;
  return el(
    "div",
    { class: "notice notice-warn" },
    el("p", {}, none ? text.untold : text.unreachable(watch.on_duty?.name ?? "whoever")),
    el(
      "p",
      {},
      el("a", { href: "#/alerts/settings" }, none ? text.untoldLink : text.unreachableLink),
    ),
  );
}

/** @param {any[]} alerts @param {string} label */
function rows(alerts, label) {
  const left = alerts.length - MOST;
  return [
    el(
      "ul",
      { class: "alerts", "aria-label": label },
      alerts.slice(0, MOST).map((one) => el("li", {}, alertRow(one))),
    ),
    left > 0 && el("a", { class: "button", href: "#/alerts" }, text.more(left)),
  ];
}

/** @param {any[]} others */
function othersPart(others) {
  if (!others.length) return null;
  const label = text.others(others.length);
  return disclosure(label, rows(others, label));
}

/** @param {Standing} standing @returns {import("./dom.js").Children[]} */
function content({ alerts, watch }) {
  const who = /** @type {import("../net/session.js").Person} */ (person());
  const { now, known, others } = sorted(alerts, who);
  const heading = iMay("book") ? text.now : text.nowRead;
  return [
    silence(watch),
    now.length > 0 && [el("h2", { class: "now-title" }, heading), ...rows(now, heading)],
    now.length > 3 &&
      iMay("book") &&
      el("a", { class: "button", href: "#/alerts?state=open" }, text.several),
    !now.length && watch.running && calm(alerts.length ? text.none : text.well, watch),
    known.length > 0 && [el("h2", { class: "now-title" }, text.known), ...rows(known, text.known)],
    othersPart(others),
    untold(watch),
  ];
}

/** @param {string} words @param {any} watch */
function calm(words, watch) {
  return el(
    "p",
    { class: "calm" },
    el("span", { class: "calm-sign", "aria-hidden": "true" }, "✓"),
    el("span", {}, el("strong", {}, words), " ", text.looked(moment(watch.last_run_at))),
  );
}

/** What is different enough to be drawn anew; minutes that pass are not. @param {Standing} standing */
function print({ alerts, watch }) {
  return JSON.stringify([
    alerts.map((one) => [one.id, one.state, one.priority, one.words, one.acknowledged_by]),
    watch.running,
    watch.nobody_to_tell,
    watch.duty_unreachable,
    alerts.length ? null : watch.last_run_at?.slice(0, 16),
  ]);
}

/** @param {Standing} first @param {AbortSignal} signal */
export function alertsNow(first, signal) {
  const body = el("div", { class: "now-body" });
  const line = el("p", { class: "now-line", role: "status" });
  let shown = first;
  const draw = (/** @type {Standing} */ standing) => {
    const open = body.querySelector("details")?.open;
    keepFocus(body, () => show(body, ...content(standing)));
    const others = body.querySelector("details");
    if (others && open) others.open = true;
    shown = standing;
  };
  draw(first);
  lookAgain(signal, {
    load: loadStanding,
    held: (standing) => {
      const before = new Set(shown.alerts.map((one) => one.id));
      const fresh = standing.alerts.filter((one) => !before.has(one.id));
      show(line, fresh.length ? text.news(fresh.length) : "");
      if (fresh.length) announce(fresh[0].words);
    },
    draw: (standing) => {
      show(line);
      if (print(standing) !== print(shown)) draw(standing);
    },
    failed: () => show(line, text.lost),
  });
  return el("section", { class: "now", "aria-label": text.title }, line, body);
}
