/** The end of the walk: what was taken, read aloud once, and booked as one act. */

import { sendAct } from "../net/acts.js";
import { forget, keep } from "../net/keep.js";
import { iMay } from "../net/session.js";
import { ACT, dropTaking } from "../net/walks.js";
import { ruleInWords } from "../logic/doses.js";
import { plural } from "../logic/numbers.js";
import * as walks from "../logic/walk.js";
import { dialog } from "./dialog.js";
import { el, show } from "./dom.js";
import { textField } from "./fields.js";
import { form } from "./form.js";
import { go } from "./go.js";
import { disclosure, empty } from "./page.js";
import { signInForm } from "./signing.js";
import { whenField } from "./when.js";
import { wayList } from "./walk_list.js";

const text = {
  begin: { href: "#/dose", text: "Choose stallion and mare" },
  review: "Before you book",
  total: (/** @type {any} */ t, /** @type {number} */ straws) =>
    `${plural(straws, "straw")} of ${t.stallion_name} for ${t.mare.name}. Read the mark on a straw aloud: is it ${t.stallion_name}?`,
  fewer: (/** @type {number} */ straws, /** @type {number} */ planned) =>
    `That is ${straws} instead of the ${planned} planned.`,
  book: (/** @type {number} */ straws) => `Book ${plural(straws, "straw")} out`,
  override: "Reason for a dose that does not meet the rule",
  overrideHint: "It stands on the record under your name.",
  below: (/** @type {any} */ t, /** @type {number} */ straws) =>
    `${plural(straws, "straw")}: the rule asks for more (${ruleInWords(t.plan.rule)}, ${plural(t.doses, "dose")}).`,
  above: (/** @type {any} */ t, /** @type {number} */ straws) =>
    `${plural(straws, "straw")}: that is more than the rule takes (${ruleInWords(t.plan.rule)}, ${plural(t.doses, "dose")}).`,
  askVet:
    "Only a vet or a manager can go against the rule, with a reason. Ask one to sign in here.",
  handOver: "Vet or manager signs in",
  notNow: "Not now",
  handOverTitle: "Sign in to go on with this walk",
  away: "Somebody takes them away from the station",
  takenBy: "Who leaves with them",
  takenByHint: "An outside vet, say. They stay on your list until they come back used, returned or lost.",
  replan: "Plan anew",
  nothing: "No straw was taken, so there is nothing to book.",
  twins: (/** @type {number} */ count) =>
    `${plural(count, "straw")} you read ${count === 1 ? "is a twin" : "are twins"} of those the plan named: the same batch, as good. The book takes ${count === 1 ? "it" : "them"} instead.`,
};

/** @typedef {import("../net/walks.js").Taking} Taking */

/** What is booked: the picks, and who is responsible for what departs from the rule. @param {Taking} taking @param {any} values */
function requestOf(taking, values) {
  const { mare_id, mare } = taking.mare;
  return {
    stallion_id: taking.stallion_id,
    doses: taking.doses,
    picks: walks.picksOf(taking.walk),
    ...(mare_id ? { mare_id } : { mare }),
    ...(taking.owner ? { owner: taking.owner } : {}),
    ...(taking.release_reserve ? { release_reserve: taking.release_reserve } : {}),
    ...values,
  };
}

/** @param {Taking} taking @param {(index: number) => void} reopen */
export function reviewView(taking, reopen) {
  const straws = walks.strawsTaken(taking.walk);
  if (!straws)
    return el("div", { class: "form" }, wayList(taking, reopen), empty(text.nothing, text.begin));
  const override = textField({
    name: "override_reason",
    label: text.override,
    hint: text.overrideHint,
  });
  override.node.hidden = true;
  const takenBy = textField({ name: "taken_by", label: text.takenBy, hint: text.takenByHint });
  const when = whenField();
  const twins = walks.twinsRead(taking.walk).length;
  const built = form({
    key: ACT,
    draft: false,
    submit: text.book(straws),
    fields: () => [...(override.node.hidden ? [] : [override]), takenBy, when.field],
    body: [override.node, disclosure(text.away, takenBy.node), when.node],
    send: async (values) => {
      const { data } = await sendAct(ACT, "/withdrawals", requestOf(taking, values));
      dropTaking();
      forget("draft:dose");
      keep(`exchanged:${data.id}`, data.exchanged);
      go(`#/withdrawals/${data.id}`, { replace: true });
    },
    refused: (problem) => refusedBooking(problem, taking, override, built),
  });
  return el(
    "div",
    { class: "form" },
    el("h2", { tabindex: "-1" }, text.review),
    wayList(taking, reopen),
    el("p", { class: "walk-facts" }, text.total(taking, straws)),
    straws < taking.plan.straws &&
      el("p", { class: "notice notice-warn" }, text.fewer(straws, taking.plan.straws)),
    twins > 0 && el("p", { class: "notice" }, text.twins(twins)),
    built.node,
  );
}

/** Somebody else takes over; the walk stays in this tab. */
function handOver() {
  const button = el("button", { type: "button", class: "button" }, text.handOver);
  button.addEventListener("click", () =>
    dialog(text.handOverTitle, (close) => [
      signInForm({ done: () => location.reload() }),
      closeButton(close),
    ]),
  );
  return button;
}

/** @param {() => void} close */
function closeButton(close) {
  const button = el("button", { type: "button", class: "button" }, text.notNow);
  button.addEventListener("click", close);
  return button;
}

/** What the service said, in this screen's words where the rule is concerned. @param {any} problem @param {Taking} taking */
function refusalInWords(problem, taking) {
  const straws = walks.strawsTaken(taking.walk);
  if (problem.code === "below-dose-rule") return text.below(taking, straws);
  return problem.code === "above-dose-rule" ? text.above(taking, straws) : problem.message;
}

/** @param {any} problem @param {Taking} taking @param {import("../parts/fields.js").Field} override @param {{said: HTMLElement}} built */
function refusedBooking(problem, taking, override, built) {
  const atRule = problem.code === "below-dose-rule" || problem.code === "above-dose-rule";
  const stale = [
    "straw-gone",
    "not-enough-straws",
    "on-hold",
    "reserve-reached",
    "promised",
    "owned-by-another",
  ].includes(problem.code);
  if (!atRule && !stale) return false;
  if (atRule && iMay("override")) override.node.hidden = false;
  show(
    built.said,
    el(
      "div",
      { class: "problem", role: "alert" },
      el("p", { class: "problem-what" }, refusalInWords(problem, taking)),
      atRule && !iMay("override") && [el("p", {}, text.askVet), handOver()],
      stale && el("p", {}, el("a", { class: "button", href: "#/dose" }, text.replan)),
    ),
  );
  if (override.node.hidden) built.said.focus();
  else override.focus();
  return true;
}
