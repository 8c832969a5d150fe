/** One stallion: who he is, his rule now and before, what is left, what went out. */

import { all, get, search } from "../net/api.js";
import { loadMarks } from "../net/bank.js";
import { iMay, moment } from "../net/session.js";
import { ruleInWords } from "../logic/doses.js";
import { link } from "../logic/routes.js";
import { showNumber } from "../logic/numbers.js";
import { showDay } from "../logic/times.js";
import { codeText, el } from "../parts/dom.js";
import { changesPart } from "../parts/changes.js";
import { markBadge } from "../parts/mark.js";
import { ownedPart, promisesPart } from "../parts/owners.js";
import { runOutPart } from "../parts/run_out.js";
import {
  badge,
  disclosure,
  empty,
  factList,
  growingList,
  linkButton,
  page,
  rowLink,
  section,
  straws,
} from "../parts/page.js";

const text = {
  back: { href: "#/stallions", text: "Stallions" },
  take: "Take a dose",
  freeze: "Log a freeze",
  bringIn: "Bring in straws of his",
  edit: "Change his record or rule",
  now: "What is left",
  figures: {
    straws: "Straws",
    doses: "Doses that may be used",
    hold: "On hold",
    reserve: "Doses in reserve",
    unusable: "Straws with no doses yet",
    owned: "Straws of other owners",
  },
  rule: "His dose rule",
  ruleBefore: "Earlier rules",
  where: "Where his straws are",
  nowhere: "No straws of his are in the bank. A freeze puts some there.",
  hold: "on hold",
  collected: (/** @type {string} */ day) => `collected ${day}`,
  who: "Who he is",
  facts: {
    ueln: "UELN",
    chip: "Microchip",
    breed: "Breed",
    born: "Foaled",
    died: "Died",
    owner: "Owner",
    colour: "Straw colour",
    low: "Low-stock limit",
    reserve: "Reserve",
  },
  doses: (/** @type {number} */ count) => `${count} doses`,
  out: "Withdrawals",
  noneOut: "No dose of his has been taken yet.",
  since: (/** @type {string} */ when, /** @type {string} */ by) => `from ${when}, set by ${by}`,
};

/** @param {string} name @param {import("../parts/dom.js").Children} value */
function figure(name, value) {
  return el("div", { class: "figure" }, el("dt", {}, name), el("dd", {}, value));
}

/** @param {any} stock @param {any} summary */
function figures(stock, summary) {
  return el(
    "dl",
    { class: "figures" },
    figure(text.figures.straws, showNumber(stock.straws)),
    figure(text.figures.doses, showNumber(stock.doses)),
    stock.straws_on_hold > 0 && figure(text.figures.hold, straws(stock.straws_on_hold)),
    summary?.doses_in_reserve > 0 &&
      figure(text.figures.reserve, showNumber(summary.doses_in_reserve)),
    summary?.straws_owned > 0 && figure(text.figures.owned, showNumber(summary.straws_owned)),
    summary?.straws_not_plannable > 0 &&
      figure(text.figures.unusable, showNumber(summary.straws_not_plannable)),
  );
}

/** @param {any} item */
function placeRow(item) {
  return el(
    "li",
    {},
    rowLink({
      href: `#/bank/goblet/${item.goblet_id}`,
      title: el("span", { class: "address" }, item.address),
      detail: [
        "batch ",
        codeText(item.batch_code),
        item.collected_on && `, ${text.collected(showDay(item.collected_on))}`,
      ],
      end: [straws(item.straws), item.on_hold && [" ", badge(text.hold, "warn")]],
    }),
  );
}

/** @param {any} one */
function withdrawalRow(one) {
  return rowLink({
    href: `#/withdrawals/${one.id}`,
    title: one.mare_name,
    detail: moment(one.occurred_at),
    end: straws(one.straws.length),
  });
}

/** @param {any[]} rules  newest first; the first one holds now */
function earlierRules(rules) {
  if (rules.length < 2) return null;
  return disclosure(
    text.ruleBefore,
    el(
      "ul",
      { class: "history" },
      rules
        .slice(1)
        .map((one) =>
          el(
            "li",
            {},
            el("span", { class: "what" }, ruleInWords(one.dose_rule)),
            el("span", { class: "who" }, text.since(moment(one.since), one.by)),
          ),
        ),
    ),
  );
}

/** @param {any} one */
function whoHeIs(one) {
  const f = text.facts;
  return factList([
    [f.ueln, one.ueln && el("span", { class: "code" }, one.ueln)],
    [f.chip, one.microchip && el("span", { class: "code" }, one.microchip)],
    [f.breed, one.breed],
    [f.born, one.foaled_on && showDay(one.foaled_on)],
    [f.died, one.died_on && showDay(one.died_on)],
    [f.owner, one.owner],
    [f.colour, one.straw_colour],
    [
      f.low,
      one.low_stock_doses !== null &&
        one.low_stock_doses !== undefined &&
        text.doses(one.low_stock_doses),
    ],
    [f.reserve, one.reserve_doses > 0 && text.doses(one.reserve_doses)],
  ]);
}

/** @param {import("../parts/page.js").Context} context */
export default async function stallionPage({ params }) {
  const id = params.id;
  const [stallion, stock, items, summaries, rules, marks, forecast] = await Promise.all([
    get(`/stallions/${id}`),
    get(`/stock${search({ stallion_id: id, limit: 1 })}`),
    all("/stock", { stallion_id: id }),
    all("/stock/stallions"),
    get(`/stallions/${id}/dose-rules`),
    loadMarks(),
    get(`/stallions/${id}/run-out`),
  ]);
  const [owned, promised] = await Promise.all([ownedPart(id), promisesPart(id)]);
  const summary = summaries.find((one) => one.stallion_id === id);
  const withdrawals = await growingList({
    label: text.out,
    row: withdrawalRow,
    none: empty(text.noneOut),
    load: (after) => get(`/withdrawals${search({ stallion_id: id, limit: 20, after })}`),
  });
  return page(
    { title: stallion.name, back: text.back },
    el(
      "p",
      { class: "marked" },
      markBadge(marks.get(id)),
      stallion.died_on && badge(`died ${showDay(stallion.died_on)}`),
    ),
    section(
      text.now,
      figures(stock, summary),
      iMay("book") &&
        el(
          "p",
          { class: "ways" },
          linkButton({ href: link("/dose", { stallion: id }), text: text.take, kind: "primary" }),
          !stallion.died_on &&
            linkButton({ href: link("/freeze/new", { stallion: id }), text: text.freeze }),
          linkButton({ href: link("/receipts/new", { stallion: id }), text: text.bringIn }),
        ),
    ),
    runOutPart(forecast, { name: stallion.name, limit: stallion.low_stock_doses }),
    section(
      text.rule,
      el("p", {}, el("strong", {}, ruleInWords(stallion.dose_rule))),
      earlierRules(rules.items),
    ),
    section(
      text.where,
      items.length ? el("ul", { class: "rows" }, items.map(placeRow)) : empty(text.nowhere),
    ),
    owned,
    promised,
    section(text.who, whoHeIs(stallion)),
    iMay("rules") && linkButton({ href: `#/stallions/${id}/edit`, text: text.edit }),
    section(text.out, withdrawals),
    changesPart(`/stallions/${id}`),
  );
}
