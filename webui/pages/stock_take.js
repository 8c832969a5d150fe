/**
 * One stock-take: what is left to count; for managers and auditors also the comparison, what became
 * of each difference, signatures, and the report. While it is counted, not a word of the book's.
 */

import { sendAct } from "../net/acts.js";
import { loadTanks } from "../net/bank.js";
import { loadTake } from "../net/takes.js";
import { iMay, moment } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import {
  byTank,
  leftToCount,
  nextGoblet,
  progressInWords,
  scopeInWords,
  takeStateInWords,
} from "../logic/stock_takes.js";
import { el, show } from "../parts/dom.js";
import { refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { badge, factList, later, page, rowLink, section } from "../parts/page.js";
import { platesLead } from "../parts/plates_lead.js";
import { problemBox } from "../parts/problem.js";
import { adjustmentsPart } from "../parts/take_adjustments.js";
import { differencesPart } from "../parts/take_differences.js";
import { closePart, reportPart, signPart } from "../parts/take_ending.js";

const text = {
  title: (/** @type {any} */ take) => `Stock-take of ${moment(take.opened_at).split(",")[0]}`,
  back: { href: "#/stock-takes", text: "Stock-takes" },
  next: (/** @type {string} */ address) => `Count the next goblet: ${address}`,
  plate: "Or scan the plate of any goblet: its count opens.",
  all: "Everything is counted.",
  toCount: "What is counted",
  goblets: (/** @type {string} */ name) => `Goblets of ${name}`,
  counted: (/** @type {any} */ one) => `${one.counted_by}, ${moment(one.counted_at)}`,
  left: "to count",
  again: "to count again",
  done: "counted",
  facts: {
    opened: "Opened",
    blind: "Counted blind",
    compared: "Compared",
    closed: "Closed",
    note: "Why differences stay",
    seen: "Counted by somebody who had looked at the book before",
    entry: "The book stood at",
    seed: "Drawn with the number",
  },
  by: (/** @type {string} */ at, /** @type {string} */ who) => `${moment(at)}, ${who}`,
  blind: "yes: nobody who counts is told what the book expects",
  open: "no",
  entry: (/** @type {number} */ seq) => `entry ${seq} when it was opened`,
  compare: "Compare with the book",
  compareAgain: "Compare once more",
  compareTitle: "Comparing",
  compareHint: (/** @type {number} */ left) =>
    left
      ? `${plural(left, "goblet")} ${left === 1 ? "is" : "are"} not counted yet; ${left === 1 ? "it is" : "they are"} left out of the comparison.`
      : "Each goblet is held against the book as it stood when that goblet was counted.",
  compareSecret: "Whoever has seen the differences no longer counts blind.",
  nothing: "Nothing is counted yet.",
  compared: "Compared.",
};

/** @param {import("../logic/stock_takes.js").Goblet} goblet @param {any} take */
function gobletRow(goblet, take) {
  const counted = goblet.state === "counted";
  const words = counted ? text.done : goblet.rounds > 1 ? text.again : text.left;
  return rowLink({
    href: `#/stock-takes/${take.id}/count/${goblet.goblet_id}`,
    title: goblet.address,
    detail: counted && text.counted(goblet),
    end: badge(words, counted ? "good" : goblet.rounds > 1 ? "warn" : "plain"),
  });
}

/** @param {any} take */
function tanksPart(take) {
  const tanks = byTank(take.goblets);
  return section(
    text.toCount,
    el(
      "ul",
      { class: "rows" },
      tanks.map((tank) =>
        el(
          "li",
          { class: "take-tank" },
          el(
            "p",
            { class: "take-tank-head" },
            el("strong", {}, tank.name),
            el("span", {}, progressInWords(tank.counted, tank.goblets.length)),
          ),
          el("progress", {
            value: tank.counted,
            max: tank.goblets.length,
            "aria-label": `${tank.name}: ${progressInWords(tank.counted, tank.goblets.length)}`,
          }),
          later(text.goblets(tank.name), () =>
            el(
              "ul",
              { class: "rows" },
              tank.goblets.map((one) => el("li", {}, gobletRow(one, take))),
            ),
          ),
        ),
      ),
    ),
  );
}

/** @param {any} take */
function countPart(take) {
  if (take.state === "closed") return null;
  const next = nextGoblet(take.goblets);
  if (!next) return take.state === "counting" && el("p", { class: "notice notice-good" }, text.all);
  return el(
    "div",
    { class: "form-part" },
    el(
      "a",
      {
        class: "button button-primary button-wide take-next",
        href: `#/stock-takes/${take.id}/count/${next.goblet_id}`,
      },
      text.next(next.address),
    ),
    el("p", { class: "hint" }, text.plate),
  );
}

/** @param {any} take */
function comparePart(take) {
  if (!iMay("audit") || take.state !== "counting") return null;
  const said = el("div", { class: "form-part" });
  const button = el(
    "button",
    { type: "button", class: "button", disabled: !take.counts.length },
    take.compared_at ? text.compareAgain : text.compare,
  );
  button.addEventListener("click", async () => {
    button.disabled = true;
    try {
      await sendAct(`compare:${take.id}`, `/stock-takes/${take.id}/compare`, {});
      toast(text.compared);
      refresh();
    } catch (problem) {
      show(said, problemBox(problem, "book"));
      button.disabled = false;
    }
  });
  const left = leftToCount(take.goblets).length;
  return section(
    text.compareTitle,
    el("p", {}, take.counts.length ? text.compareHint(left) : text.nothing),
    el("p", { class: "hint" }, text.compareSecret),
    said,
    button,
  );
}

/** @param {any} take */
function factsOf(take) {
  const seen = take.counts.filter((/** @type {any} */ one) => one.not_blind).length;
  return factList([
    [text.facts.opened, text.by(take.opened_at, take.opened_by)],
    [text.facts.blind, take.blind ? text.blind : text.open],
    [text.facts.seen, iMay("audit") && seen > 0 && plural(seen, "goblet")],
    [text.facts.compared, take.compared_at && moment(take.compared_at)],
    [text.facts.closed, take.closed_at && text.by(take.closed_at, take.closed_by)],
    [text.facts.note, take.closing_note],
    [text.facts.entry, iMay("audit") && text.entry(take.frozen_at_entry)],
    [text.facts.seed, iMay("audit") && take.seed && el("span", { class: "code hash" }, take.seed)],
  ]);
}

/** Addresses of goblets by id, of the whole bank: a difference may name one that is not counted. @param {any} take */
async function addressesOf(take) {
  const tanks = take.differences.length || take.adjustments.length ? await loadTanks() : [];
  const known = tanks.flatMap((tank) =>
    tank.canisters.flatMap((/** @type {any} */ one) => one.goblets),
  );
  const pairs = [
    ...known.map((/** @type {any} */ one) => [one.id, one.address]),
    ...take.goblets.map((/** @type {any} */ one) => [one.goblet_id, one.address]),
  ];
  const addresses = new Map(pairs);
  return (/** @type {string} */ id) => addresses.get(id);
}

/** @param {import("../parts/page.js").Context} context */
export default async function stockTakePage({ params, signal }) {
  const take = await loadTake(params.id);
  const names = new Map(byTank(take.goblets).map((one) => [one.id, one.name]));
  const addressOf = await addressesOf(take);
  if (take.state !== "closed") platesLead(take, signal);
  const lead = [
    scopeInWords(take.scope, take.goblets.length, (id) => names.get(id)),
    `. ${takeStateInWords(take.state)}.`,
  ];
  return page(
    { title: text.title(take), lead, back: text.back, kind: "page-wide" },
    countPart(take),
    adjustmentsPart(take, addressOf),
    differencesPart(take, addressOf),
    tanksPart(take),
    comparePart(take),
    signPart(take),
    closePart(take),
    reportPart(take),
    factsOf(take),
  );
}
