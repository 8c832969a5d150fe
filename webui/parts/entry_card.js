/** One entry of the book: who did what, to which straws, and taking it back. */

import { sendAct } from "../net/acts.js";
import { iMay, moment } from "../net/session.js";
import { plural, showNumber } from "../logic/numbers.js";
import { kindInWords, placeInWords } from "../logic/words.js";
import { codeText, el } from "./dom.js";
import { textField } from "./fields.js";
import { form } from "./form.js";
import { refresh } from "./go.js";
import { toast } from "./live.js";
import { later } from "./page.js";

const text = {
  title: (/** @type {any} */ e) =>
    `${e.seq}. ${e.kind === "relocate" ? text.relocated(e.goblets_moved.length) : kindInWords(e.kind)}`,
  relocated: (/** @type {number} */ goblets) =>
    goblets ? `${plural(goblets, "goblet")} moved` : "Empty canister moved",
  straws: (/** @type {any} */ e) => (e.straws ? plural(e.straws, "straw") : ""),
  reason: "Reason: ",
  lines: "Its straws",
  way: (/** @type {any} */ line) => `${placeInWords(line.from)} → ${placeInWords(line.to)}`,
  recorded: (/** @type {string} */ when) => `, entered ${when}`,
  mark: "Mark",
  correct: "Take this entry back",
  correctHint:
    "Works while its straws are still where it put them. The entry stays readable; a counter-entry is added.",
  relocateHint:
    "Everything hangs again where it hung before, unless something was moved there since. The entry stays readable; a counter-entry is added.",
  correctReason: "Reason",
  corrected: "A counter-entry is added.",
  withdrawal: "See the withdrawal",
  batch: "See the batch",
  dispatch: "See the dispatch",
  labels: "See its labels",
};

/** Kinds that can be taken back by a counter-entry. */
const CORRECTABLE = [
  ...["prepare", "freeze", "move", "discard", "withdraw", "return", "relocate", "receive"],
  ...["dispatch", "lose"],
];

/** Lines with the same way are told together. @param {any[]} lines */
function lineGroups(lines) {
  const found = new Map();
  for (const line of lines) found.set(text.way(line), [...(found.get(text.way(line)) ?? []), line]);
  return [...found.entries()].map(([way, group]) =>
    el(
      "div",
      {},
      el("p", {}, `${way}: ${showNumber(group.length)}`),
      el(
        "ul",
        { class: "code-grid" },
        group
          .filter((/** @type {any} */ line) => line.straw_code)
          .slice(0, 300)
          .map((/** @type {any} */ line) =>
            el(
              "li",
              {},
              el(
                "a",
                { class: "code-link", href: `#/straws/${line.straw_code}` },
                codeText(line.straw_code),
              ),
            ),
          ),
      ),
    ),
  );
}

/** Goblets that hang elsewhere since this entry. @param {any} entry */
function platesPart({ goblets_moved: moved }) {
  if (!moved?.length) return null;
  return el(
    "ul",
    { class: "rehung" },
    moved.map((/** @type {any} */ one) =>
      el(
        "li",
        {},
        el("span", { class: "address" }, one.from_address),
        "→",
        el("a", { class: "address", href: `#/bank/goblet/${one.goblet_id}` }, one.address),
      ),
    ),
  );
}

/** @param {any} entry */
function correctForm(entry) {
  const reason = textField({ name: "reason", label: text.correctReason, required: true });
  const key = `correct:${entry.id}`;
  return form({
    key,
    fields: () => [reason],
    submit: text.correct,
    kind: "danger",
    body: [
      el("p", { class: "hint" }, entry.kind === "relocate" ? text.relocateHint : text.correctHint),
      reason.node,
    ],
    send: async (values) => {
      await sendAct(key, `/ledger/${entry.id}/correct`, values);
      toast(text.corrected);
      refresh();
    },
  }).node;
}

/** @param {any} entry */
export function entryCard(entry) {
  const late = Math.abs(Date.parse(entry.recorded_at) - Date.parse(entry.occurred_at)) > 120_000;
  return el(
    "article",
    { class: "entry" },
    el("h3", {}, text.title(entry), " ", el("small", {}, text.straws(entry))),
    el(
      "p",
      { class: "row-detail" },
      `${moment(entry.occurred_at)}, `,
      el("a", { href: `#/people/${entry.by_id}` }, entry.by),
      late && text.recorded(moment(entry.recorded_at)),
    ),
    entry.reason && el("p", {}, text.reason, entry.reason),
    platesPart(entry),
    entry.withdrawal_id &&
      el(
        "p",
        {},
        el(
          "a",
          { class: "line-link", href: `#/withdrawals/${entry.withdrawal_id}` },
          text.withdrawal,
        ),
      ),
    entry.kind === "dispatch" &&
      el("p", {}, el("a", { class: "line-link", href: `#/dispatches/${entry.id}` }, text.dispatch)),
    entry.batch_id &&
      el("p", {}, el("a", { class: "line-link", href: `#/batches/${entry.batch_id}` }, text.batch)),
    entry.kind === "print" &&
      entry.batch_id &&
      el(
        "p",
        {},
        el("a", { class: "line-link", href: `#/batches/${entry.batch_id}/labels` }, text.labels),
      ),
    later(entry.straws ? text.lines : text.mark, () =>
      el(
        "div",
        { class: "form-part" },
        lineGroups(entry.lines),
        el("p", { class: "hint" }, text.mark, ": ", el("span", { class: "code hash" }, entry.hash)),
      ),
    ),
    iMay("book") &&
      CORRECTABLE.includes(entry.kind) &&
      later(text.correct, () => correctForm(entry)),
  );
}
