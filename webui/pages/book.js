/** The book: every entry as it was written, whether the whole is sound, and taking an entry back. */

import { get, search } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { iMay, moment } from "../net/session.js";
import { plural, showNumber } from "../logic/numbers.js";
import { kindInWords, placeInWords } from "../logic/words.js";
import { codeText, el, show } from "../parts/dom.js";
import { textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { empty, factList, growingList, later, page, section } from "../parts/page.js";
import { problemBox } from "../parts/problem.js";

const text = {
  title: "The book",
  lead: "Entries are only ever added. A mistake is taken back by an entry of its own, with a reason.",
  check: "Is the book sound?",
  sound: (/** @type {number} */ count) =>
    `Sound: ${plural(count, "entry", "entries")}, each fits the one before.`,
  unsound: "NOT sound. Stop working with it, keep a copy, and tell whoever looks after it.",
  unchecked: "Not checked yet since the start. Look again in a moment.",
  again: "Check now",
  head: "Newest mark (head)",
  headHint: "Write it down now and then: a book that was rewritten cannot show the same mark.",
  entries: "Entries, the newest first",
  oneEntry: (/** @type {string} */ seq) => `Entry ${seq}`,
  all: { href: "#/book", text: "All entries" },
  none: "The book is empty. The first freeze makes the first entries.",
  title1: (/** @type {any} */ e) => `${e.seq}. ${kindInWords(e.kind)}`,
  straws: (/** @type {any} */ e) => (e.straws ? plural(e.straws, "straw") : ""),
  reason: "Reason: ",
  lines: "Its straws",
  way: (/** @type {any} */ line) => `${placeInWords(line.from)} → ${placeInWords(line.to)}`,
  recorded: (/** @type {string} */ when) => `, entered ${when}`,
  mark: "Mark",
  correct: "Take this entry back",
  correctHint:
    "Works while its straws are still where it put them. The entry stays readable; a counter-entry is added.",
  correctReason: "Reason",
  corrected: "A counter-entry is added.",
  withdrawal: "See the withdrawal",
  batch: "See the batch",
};

/** Kinds that can be taken back by a counter-entry. */
const CORRECTABLE = ["prepare", "freeze", "move", "discard", "withdraw", "return"];

/** @param {any} check */
function soundness(check) {
  if (check.sound === null) return el("p", { class: "notice notice-warn" }, text.unchecked);
  if (check.sound) return el("p", { class: "notice notice-good" }, text.sound(check.entries));
  return el(
    "div",
    { class: "problem" },
    el("p", { class: "problem-what" }, text.unsound),
    el(
      "ul",
      {},
      check.problems.map((/** @type {string} */ one) => el("li", {}, one)),
    ),
  );
}

/** @param {any} first */
function checkPart(first) {
  const place = el("div", { class: "form-part", "aria-live": "polite" });
  const draw = (/** @type {any} */ check) =>
    show(
      place,
      soundness(check),
      factList([[text.head, el("span", { class: "code hash" }, check.head)]]),
      el("p", { class: "hint" }, text.headHint),
    );
  const button = el("button", { type: "button", class: "button" }, text.again);
  button.addEventListener("click", async () => {
    button.disabled = true;
    await get("/ledger/check").then(draw, (problem) => show(place, problemBox(problem)));
    button.disabled = false;
  });
  draw(first);
  return section(text.check, place, button);
}

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

/** @param {any} entry */
function correctForm(entry) {
  const reason = textField({ name: "reason", label: text.correctReason, required: true });
  const key = `correct:${entry.id}`;
  return form({
    key,
    fields: () => [reason],
    submit: text.correct,
    kind: "danger",
    body: [el("p", { class: "hint" }, text.correctHint), reason.node],
    send: async (values) => {
      await sendAct(key, `/ledger/${entry.id}/correct`, values);
      toast(text.corrected);
      refresh();
    },
  }).node;
}

/** @param {any} entry */
function entryCard(entry) {
  const late = Math.abs(Date.parse(entry.recorded_at) - Date.parse(entry.occurred_at)) > 120_000;
  return el(
    "article",
    { class: "entry" },
    el("h3", {}, text.title1(entry), " ", el("small", {}, text.straws(entry))),
    el(
      "p",
      { class: "row-detail" },
      `${moment(entry.occurred_at)}, ${entry.by}`,
      late && text.recorded(moment(entry.recorded_at)),
    ),
    entry.reason && el("p", {}, text.reason, entry.reason),
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
    entry.batch_id &&
      el("p", {}, el("a", { class: "line-link", href: `#/batches/${entry.batch_id}` }, text.batch)),
    later(text.lines, () =>
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

/** @param {import("../parts/page.js").Context} context */
export default async function book({ query }) {
  const seq = query.get("entry");
  if (seq) {
    const { items } = await get(
      `/ledger${search({ limit: 1, newest_first: "true", after: entryMarker(Number(seq) + 1) })}`,
    );
    return page({ title: text.oneEntry(seq), back: text.all }, items.map(entryCard));
  }
  const check = await get("/ledger/check");
  return page(
    { title: text.title, lead: text.lead },
    checkPart(check),
    section(
      text.entries,
      await growingList({
        label: text.entries,
        none: empty(text.none),
        row: entryCard,
        load: (after) => get(`/ledger${search({ limit: 25, newest_first: "true", after })}`),
      }),
    ),
  );
}

/** The list's own page marker for “before this entry”. @param {number} seq */
function entryMarker(seq) {
  return btoa(JSON.stringify([seq]))
    .replace(/=+$/, "")
    .replaceAll("+", "-")
    .replaceAll("/", "_");
}
