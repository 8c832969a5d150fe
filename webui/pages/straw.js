/** A straw: where it is, and everything that ever happened to it. */

import { get } from "../net/api.js";
import { iMay, moment } from "../net/session.js";
import { showDay } from "../logic/times.js";
import { kindInWords, placeInWords, stateInWords } from "../logic/words.js";
import { groupedCode } from "../logic/codes.js";
import { codeText, el } from "../parts/dom.js";
import { badge, factList, linkButton, page, section } from "../parts/page.js";

const text = {
  title: (/** @type {string} */ code) => `Straw ${groupedCode(code)}`,
  back: { href: "#/find", text: "Find another" },
  facts: {
    state: "State",
    where: "Where",
    stallion: "Stallion",
    batch: "Batch",
    day: "Collected",
    colour: "Straw colour",
    owner: "Belongs to",
    out: "Taken out for",
  },
  certain: "by count",
  provisional:
    "By count: the number is right, but nobody has read that it was this straw and not a twin of the same batch.",
  history: "What happened to it",
  who: (/** @type {string} */ when, /** @type {string} */ by) => `${when}, ${by}`,
  recorded: (/** @type {string} */ when) => `entered ${when}`,
  reason: "Reason: ",
  entry: (/** @type {number} */ seq) => `entry ${seq}`,
  withdrawal: "See the withdrawal",
  dispatch: "See the dispatch",
};

/** Where a line of the book begins or ends; an address is never broken over two lines. @param {string} place */
function placeText(place) {
  return el("span", { class: "place" }, placeInWords(place));
}

/** @param {any} step */
function stepLine(step) {
  const late = Math.abs(Date.parse(step.recorded_at) - Date.parse(step.occurred_at)) > 120_000;
  return el(
    "li",
    {},
    el(
      "span",
      { class: "what" },
      kindInWords(step.kind),
      " ",
      step.provisional && badge(text.certain, "warn"),
    ),
    el("span", {}, placeText(step.from), " → ", placeText(step.to)),
    el(
      "span",
      { class: "who" },
      text.who(moment(step.occurred_at), step.by),
      late && `, ${text.recorded(moment(step.recorded_at))}`,
      ", ",
      el("a", { href: `#/book?entry=${step.entry_seq}` }, text.entry(step.entry_seq)),
      step.withdrawal_id && [
        ", ",
        el("a", { href: `#/withdrawals/${step.withdrawal_id}` }, text.withdrawal),
      ],
      step.kind === "dispatch" && [
        ", ",
        el("a", { href: `#/dispatches/${step.entry_id}` }, text.dispatch),
      ],
    ),
    step.reason && el("span", {}, text.reason, step.reason),
  );
}

/** @param {import("../parts/page.js").Context} context */
export default async function strawPage({ params }) {
  const straw = await get(`/straws/${encodeURIComponent(params.code)}`);
  const f = text.facts;
  return page(
    { title: text.title(straw.code), back: text.back },
    factList([
      [f.state, stateInWords(straw.state)],
      [
        f.where,
        straw.goblet_id &&
          el("a", { class: "address", href: `#/bank/goblet/${straw.goblet_id}` }, straw.address),
      ],
      [f.stallion, el("a", { href: `#/stallions/${straw.stallion_id}` }, straw.stallion_name)],
      [f.batch, el("a", { href: `#/batches/${straw.batch_id}` }, codeText(straw.batch_code))],
      [f.day, straw.collected_on && showDay(straw.collected_on)],
      [f.colour, straw.straw_colour],
      [f.owner, straw.owner],
    ]),
    straw.provisional && el("p", { class: "notice notice-warn" }, text.provisional),
    iMay("book") &&
      straw.state === "lifted" &&
      straw.withdrawal_id &&
      linkButton({ href: `#/withdrawals/${straw.withdrawal_id}`, text: text.withdrawal }),
    section(text.history, el("ol", { class: "history" }, straw.history.map(stepLine))),
  );
}
