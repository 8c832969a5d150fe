/**
 * The plan as a walk: one large step for each goblet, confirmed by count or by the codes read, and
 * at the end one act that books it all.
 */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { forget } from "../net/keep.js";
import { iMay } from "../net/session.js";
import { ACT, dropTaking, keepTaking, presentTaking } from "../net/walks.js";
import { plural, showNumber } from "../logic/numbers.js";
import { ruleInWords } from "../logic/doses.js";
import * as walks from "../logic/walk.js";
import { caution, shortCaution } from "../parts/cautions.js";
import { codeText, el, show } from "../parts/dom.js";
import { textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { announce } from "../parts/live.js";
import { empty, page, section } from "../parts/page.js";
import { scanField } from "../parts/scan.js";
import { stepper } from "../parts/stepper.js";

const text = {
  title: (/** @type {any} */ t) => `${t.stallion_name} for ${t.mare.name}`,
  none: "No walk has begun.",
  begin: { href: "#/dose", text: "Choose stallion and mare" },
  back: { href: "#/dose", text: "Choose again" },
  summary: (/** @type {any} */ plan) => `${plural(plan.straws, "straw")} from ${plural(plan.picks.length, "goblet")}, ${plural(plan.canister_lifts, "canister lift")}.`,
  million: (/** @type {any} */ value) => `About ${showNumber(value, { decimals: 0, down: true })} million progressively motile sperm.`,
  rule: "Rule: ",
  why: "Why these straws",
  start: "Start the walk",
  plan: "The way",
  stepOf: (/** @type {number} */ at, /** @type {number} */ all) => `Goblet ${at} of ${all}`,
  take: (/** @type {number} */ straws) => `Take ${plural(straws, "straw")}`,
  batch: "batch ",
  colour: (/** @type {string} */ colour) => `${colour} straws`,
  have: (/** @type {number} */ straws) => `I have ${plural(straws, "straw")}`,
  haveNone: "There are none here",
  other: "A different number, or read the codes",
  howMany: "Straws I took here",
  scan: "Code of a straw in your hand",
  scanHint: "Scan it, or type the nine signs. Reading codes is not needed, but makes certain which straws left.",
  said: {
    planned: "That is one of them.", twin: "A twin of the same batch: as good.", again: "That one is read already.",
    full: "You have read as many as this step needs.", "not-a-straw": "That is a place or a batch, not a straw.",
    "wrong-stallion": (/** @type {string} */ name) => `Wrong stallion: this straw is ${name}’s. Put it back at once.`,
    "other-batch": "Another batch than the plan says. Put it back, and take one of this batch.",
    gone: (/** @type {string} */ state) => `The book has this straw as ${state}. Put it aside and tell somebody.`,
    offline: "No answer, so this code could not be looked up. Compare the straw with the batch code by eye.",
  },
  reopen: "Change",
  review: "Before you book",
  taken: (/** @type {number} */ taken, /** @type {number} */ planned) => `${taken} of ${planned}`,
  total: (/** @type {any} */ t, /** @type {number} */ straws) => `${plural(straws, "straw")} of ${t.stallion_name} for ${t.mare.name}. Read the mark on a straw aloud: is it ${t.stallion_name}?`,
  fewer: (/** @type {number} */ straws, /** @type {number} */ planned) => `That is ${straws} instead of the ${planned} planned.`,
  book: (/** @type {number} */ straws) => `Book ${plural(straws, "straw")} out`,
  override: "Reason for a dose that does not meet the rule",
  overrideHint: "It stands on the record under your name.",
  below: (/** @type {any} */ t, /** @type {number} */ straws) => `${plural(straws, "straw")}: the rule asks for more (${ruleInWords(t.plan.rule)}, ${plural(t.doses, "dose")}).`,
  above: (/** @type {any} */ t, /** @type {number} */ straws) => `${plural(straws, "straw")}: that is more than the rule takes (${ruleInWords(t.plan.rule)}, ${plural(t.doses, "dose")}).`,
  askVet: "Only a vet or a manager can go against the rule, with a reason. Ask one to sign in here.",
  replan: "Plan anew",
  print: "Print the walk list",
  nothing: "No straw was taken, so there is nothing to book.",
};

/** @typedef {import("../net/walks.js").Taking} Taking */

/** @param {Taking} taking */
function facts(taking) {
  const { plan } = taking;
  const warnings = (plan.warnings ?? []).map((/** @type {any} */ one) => one.message ?? one.detail ?? one);
  const why = [plan.why].flat().filter(Boolean);
  return [
    el("p", { class: "walk-facts" }, el("strong", {}, text.summary(plan)),
      plan.progressive_million !== null && plan.progressive_million !== undefined && ` ${text.million(plan.progressive_million)}`),
    plan.rule && el("p", {}, text.rule, ruleInWords(plan.rule), "."),
    why.length > 0 && el("details", { class: "more", open: true }, el("summary", {}, text.why),
      why.map((one) => el("p", {}, one))),
    warnings.map((/** @type {string} */ one) => el("p", { class: "notice notice-warn" }, one)),
  ];
}

/** @param {Taking} taking @param {(index: number) => void} [reopen] */
function wayList(taking, reopen) {
  return el("ol", { class: "walk-list", "aria-label": text.plan }, taking.walk.steps.map((step, i) =>
    el("li", {}, el("div", {}, el("span", { class: "address" }, step.address), el("br"),
      text.batch, codeText(step.batch_code), step.straw_colour && ` · ${text.colour(step.straw_colour)}`),
    el("div", { class: "taken" }, step.taken === null ? plural(step.straws, "straw") : text.taken(step.taken, step.straws),
      reopen && step.taken !== null && reopenButton(i, step.address, reopen)))));
}

/** @param {number} index @param {string} address @param {(index: number) => void} reopen */
function reopenButton(index, address, reopen) {
  const button = el("button", { type: "button", class: "button", "aria-label": `${text.reopen} ${address}` }, text.reopen);
  button.addEventListener("click", () => reopen(index));
  return button;
}

/** @param {walks.Walk} walk */
function progress(walk) {
  return el("ol", { class: "walk-progress", "aria-hidden": "true" }, walk.steps.map((step, i) =>
    el("li", { class: i === walk.at ? "here" : step.taken === null ? "" : "done" })));
}

/** @param {Taking} taking @param {string} code */
async function judge(taking, code) {
  const quick = walks.judgeCode(taking.walk, code);
  if (quick !== "look-up") return { verdict: quick, found: null };
  try {
    const found = await get(`/scan/${code}`);
    return { verdict: walks.judgeFound(taking.walk, found, taking.stallion_id), found };
  } catch (problem) {
    return { verdict: /** @type {any} */ (problem).status === 404 ? "unknown" : "offline", found: problem };
  }
}

/** @param {string} verdict @param {any} found @returns {import("../parts/scan.js").Said} */
function verdictInWords(verdict, found) {
  if (verdict === "planned" || verdict === "twin") return { kind: "done", text: text.said[verdict] };
  if (verdict === "wrong-stallion") return { kind: "refused", text: text.said["wrong-stallion"](found.stallion_name) };
  if (verdict === "gone") return { kind: "refused", text: text.said.gone(found.state) };
  if (verdict === "unknown") return { kind: "refused", text: found.message };
  const kind = verdict === "again" || verdict === "full" || verdict === "offline" ? "check" : "refused";
  return { kind, text: text.said[/** @type {"again"} */ (verdict)] };
}

/** One goblet. @param {Taking} taking @param {(walk: walks.Walk) => void} next */
function stepView(taking, next) {
  let { walk } = taking;
  const step = walk.steps[walk.at];
  const confirm = el("button", { type: "button", class: "button button-primary button-wide" });
  const count = stepper({ label: text.howMany, value: step.straws, most: step.straws, changed: (value) => name(value) });
  const name = (/** @type {number} */ straws) => { confirm.textContent = straws ? text.have(straws) : text.haveNone; };
  const read = el("ul", { class: "codes" });
  const drawCodes = () => show(read, walk.steps[walk.at].codes.map((code) => el("li", {}, codeText(code))));
  const scan = scanField({
    label: text.scan, hint: text.scanHint,
    got: async (code) => {
      const { verdict, found } = await judge({ ...taking, walk }, code);
      if (verdict === "planned" || verdict === "twin") {
        walk = walks.addCode(walk, code);
        keepTaking({ ...taking, walk });
        drawCodes();
        const seen = walk.steps[walk.at].codes.length;
        if (seen > count.value()) count.set(seen);
      }
      return verdictInWords(verdict, found);
    },
  });
  confirm.addEventListener("click", () => next(walks.confirmStep(walk, count.value())));
  name(step.straws);
  drawCodes();
  return el("div", { class: "form" }, progress(walk),
    el("div", { class: "walk-step" },
      el("h2", { tabindex: "-1" }, text.stepOf(walk.at + 1, walk.steps.length)),
      el("p", { class: "walk-address" }, step.address),
      el("p", { class: "walk-count" }, text.take(step.straws)),
      el("p", { class: "walk-facts" }, taking.stallion_name, ", ", text.batch, codeText(step.batch_code),
        step.straw_colour && `, ${text.colour(step.straw_colour)}`)),
    shortCaution(),
    confirm,
    el("details", { class: "more", open: step.codes.length > 0 }, el("summary", {}, text.other),
      el("div", { class: "more-body" }, count.node, scan.node, read)));
}

/** What is booked: the picks, and who is responsible for what departs from the rule. @param {Taking} taking @param {any} values */
function requestOf(taking, values) {
  const { mare_id, mare } = taking.mare;
  return {
    stallion_id: taking.stallion_id, doses: taking.doses, picks: walks.picksOf(taking.walk),
    ...(mare_id ? { mare_id } : { mare }),
    ...(taking.release_reserve ? { release_reserve: taking.release_reserve } : {}),
    ...(values.override_reason ? { override_reason: values.override_reason } : {}),
  };
}

/** @param {Taking} taking @param {(index: number) => void} reopen */
function reviewView(taking, reopen) {
  const straws = walks.strawsTaken(taking.walk);
  if (!straws) return el("div", { class: "form" }, wayList(taking, reopen), empty(text.nothing, text.begin));
  const override = textField({ name: "override_reason", label: text.override, hint: text.overrideHint });
  override.node.hidden = true;
  const built = form({
    key: ACT, draft: false, submit: text.book(straws),
    fields: () => (override.node.hidden ? [] : [override]),
    body: [override.node],
    send: async (values) => {
      const { data } = await sendAct(ACT, "/withdrawals", requestOf(taking, values));
      dropTaking();
      forget("draft:dose");
      go(`#/withdrawals/${data.id}`, { replace: true });
    },
    refused: (problem) => refusedBooking(problem, taking, override, built),
  });
  return el("div", { class: "form" }, el("h2", { tabindex: "-1" }, text.review), wayList(taking, reopen),
    el("p", { class: "walk-facts" }, text.total(taking, straws)),
    straws < taking.plan.straws && el("p", { class: "notice notice-warn" }, text.fewer(straws, taking.plan.straws)),
    built.node);
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
  const stale = ["straw-gone", "not-enough-straws", "on-hold", "reserve-reached"].includes(problem.code);
  if (!atRule && !stale) return false;
  if (atRule && iMay("override")) override.node.hidden = false;
  show(built.said, el("div", { class: "problem", role: "alert" }, el("p", { class: "problem-what" }, refusalInWords(problem, taking)),
    atRule && !iMay("override") && el("p", {}, text.askVet),
    stale && el("p", {}, el("a", { class: "button", href: "#/dose" }, text.replan))));
  if (override.node.hidden) built.said.focus();
  else override.focus();
  return true;
}

export default async function walkPage() {
  const kept = presentTaking();
  if (!kept) return page({ title: "Take a dose" }, empty(text.none, text.begin));
  /** @type {Taking} */
  let taking = kept;
  const place = el("div", { class: "walk form" });
  const move = (/** @type {walks.Walk} */ walk) => {
    taking = { ...taking, walk };
    keepTaking(taking);
    draw();
  };
  const reopen = (/** @type {number} */ index) => move(walks.reopenStep(taking.walk, index));
  const draw = () => {
    const done = walks.isComplete(taking.walk);
    show(place, done ? reviewView(taking, reopen) : stepView(taking, move));
    place.querySelector("h2")?.focus();
    announce(done ? text.review : text.stepOf(taking.walk.at + 1, taking.walk.steps.length));
  };
  const begun = taking.walk.steps.some((step) => step.taken !== null || step.codes.length);
  if (begun) queueMicrotask(draw);
  else show(place, planView(taking, draw));
  return page({ title: text.title(taking), back: text.back, kind: "dose" }, place);
}

/** @param {Taking} taking @param {() => void} begin */
function planView(taking, begin) {
  const start = el("button", { type: "button", class: "button button-primary button-wide" }, text.start);
  start.addEventListener("click", begin);
  const print = el("button", { type: "button", class: "button" }, text.print);
  print.addEventListener("click", () => window.print());
  return el("div", { class: "form" }, facts(taking), section(text.plan, wayList(taking)), caution("lifting"), start, print);
}
