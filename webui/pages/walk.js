/**
 * The plan as a walk: one large step for each goblet, confirmed by count or by the codes read, and
 * at the end one act that books it all.
 */

import { walkCard } from "../net/labels.js";
import { keepTaking, presentTaking } from "../net/walks.js";
import { ruleInWords } from "../logic/doses.js";
import { plural, showNumber } from "../logic/numbers.js";
import * as walks from "../logic/walk.js";
import { caution } from "../parts/cautions.js";
import { el, show } from "../parts/dom.js";
import { announce } from "../parts/live.js";
import { empty, page, section } from "../parts/page.js";
import { paperButton } from "../parts/paper.js";
import { tell } from "../parts/said.js";
import { wayList } from "../parts/walk_list.js";
import { reviewView } from "../parts/walk_review.js";
import { stepView } from "../parts/walk_step.js";
import { deliver, note, onScan } from "../parts/wedge.js";

const text = {
  title: (/** @type {any} */ t) => `${t.stallion_name} for ${t.mare.name}`,
  none: "No walk has begun.",
  begin: { href: "#/dose", text: "Choose stallion and mare" },
  back: { href: "#/dose", text: "Choose again" },
  summary: (/** @type {any} */ plan) =>
    `${plural(plan.straws, "straw")} from ${plural(plan.picks.length, "goblet")}, ${plural(plan.canister_lifts, "canister lift")}.`,
  million: (/** @type {any} */ value) =>
    `About ${showNumber(value, { decimals: 0, down: true })} million progressively motile sperm.`,
  rule: "Rule: ",
  why: "Why these straws",
  start: "Start the walk",
  plan: "The way",
  stepOf: (/** @type {number} */ at, /** @type {number} */ all) => `Goblet ${at} of ${all}`,
  review: "Before you book",
  print: "Print the walk card",
  scanStarts: "Scanning the first goblet’s plate, or a straw, starts the walk too.",
  allDone: "Every goblet of this walk is confirmed. Book it, or change one of them.",
};

/** @typedef {import("../net/walks.js").Taking} Taking */

/** @param {Taking} taking */
function facts(taking) {
  const { plan } = taking;
  return [
    el(
      "p",
      { class: "walk-facts" },
      el("strong", {}, text.summary(plan)),
      plan.progressive_million !== null &&
        plan.progressive_million !== undefined &&
        ` ${text.million(plan.progressive_million)}`,
    ),
    plan.rule && el("p", {}, text.rule, ruleInWords(plan.rule), "."),
    plan.why &&
      el(
        "details",
        { class: "more", open: true },
        el("summary", {}, text.why),
        el("p", {}, plan.why),
      ),
    plan.warnings.map((/** @type {string} */ one) => el("p", { class: "notice notice-warn" }, one)),
  ];
}

/** @param {import("../parts/page.js").Context} context */
export default async function walkPage({ signal }) {
  const kept = presentTaking();
  if (!kept) return page({ title: "Take a dose" }, empty(text.none, text.begin));
  /** @type {Taking} */
  let taking = kept;
  const place = el("div", { class: "walk form" });
  /** @param {walks.Walk} walk @param {import("../parts/said.js").Said} [said] */
  const move = (walk, said) => {
    taking = { ...taking, walk };
    keepTaking(taking);
    draw();
    const told = /** @type {HTMLElement|null} */ (place.querySelector(".scan-said"));
    if (said && told) tell(told, said);
    else if (said) note(said);
  };
  const reopen = (/** @type {number} */ index) => move(walks.reopenStep(taking.walk, index));
  const draw = () => {
    const done = walks.isComplete(taking.walk);
    show(place, done ? reviewView(taking, reopen) : stepView(taking, move));
    place.querySelector("h2")?.focus();
    announce(done ? text.review : text.stepOf(taking.walk.at + 1, taking.walk.steps.length));
  };
  onScan(signal, (scan) => {
    // A step's own field takes what is scanned there; here stands the plan, or the review.
    if (walks.isComplete(taking.walk))
      return note({ kind: "check", text: text.allDone, code: scan.code });
    draw();
    return deliver(scan);
  });
  const begun = taking.walk.steps.some((step) => step.taken !== null || step.codes.length);
  if (begun) queueMicrotask(draw);
  else show(place, planView(taking, draw));
  return page({ title: text.title(taking), back: text.back, kind: "dose" }, place);
}

/** What stands on the card. @param {Taking} taking */
function cardOf({ stallion_id, mare, doses, plan }) {
  const picks = plan.picks.map((/** @type {any} */ one) => ({
    goblet_id: one.goblet_id,
    batch_id: one.batch_id,
    straws: one.straws,
  }));
  return { stallion_id, mare: mare.name, doses, picks };
}

/** @param {Taking} taking @param {() => void} begin */
function planView(taking, begin) {
  const start = el(
    "button",
    { type: "button", class: "button button-primary button-wide" },
    text.start,
  );
  start.addEventListener("click", begin);
  const print = paperButton({ words: text.print, load: () => walkCard(cardOf(taking)) });
  return el(
    "div",
    { class: "form" },
    facts(taking),
    section(text.plan, wayList(taking)),
    caution("lifting"),
    start,
    el("p", { class: "hint no-print" }, text.scanStarts),
    print,
  );
}
