/** Where count and book do not agree, goblet by goblet: what it is, what may have happened, what to do. */

import { sendAct } from "../net/acts.js";
import { iMay, moment } from "../net/session.js";
import { groupedCode } from "../logic/codes.js";
import {
  byGoblet,
  canPropose,
  classInWords,
  classesInWords,
  differenceInWords,
  moveOf,
  REASONS,
  signed,
} from "../logic/stock_takes.js";
import { plural } from "../logic/numbers.js";
import { kindInWords } from "../logic/words.js";
import { el, show } from "./dom.js";
import { areaField, numberField, selectField } from "./fields.js";
import { form } from "./form.js";
import { refresh } from "./go.js";
import { toast } from "./live.js";
import { badge, disclosure, section } from "./page.js";
import { problemBox } from "./problem.js";

const text = {
  title: "Differences",
  none: "Everything that was counted is as the book has it.",
  overview: (/** @type {number} */ goblets, /** @type {string} */ classes) =>
    `In ${plural(goblets, "goblet")}: ${classes}. Too many here never makes up for too few there.`,
  expected: "In the book",
  counted: "Counted",
  difference: "Difference",
  of: (/** @type {any} */ one) => `${one.stallion_name}, batch ${groupedCode(one.batch_code)}`,
  unnamed: "Straws that nobody can name",
  dealt: (/** @type {number} */ open) =>
    open ? `Still open: ${differenceInWords(open)}.` : "Dealt with by a proposal.",
  move: {
    certain: (/** @type {string} */ what) => `${what} Their codes were read.`,
    likely: (/** @type {string} */ what) => `${what} The numbers fit, and nothing else does.`,
    possible: (/** @type {string} */ what) => `${what} It is one of several ways to explain it.`,
  },
  there: (/** @type {number} */ straws, /** @type {string} */ place) =>
    `${plural(straws, "straw")} seem${straws === 1 ? "s" : ""} to stand in ${place} instead.`,
  here: (/** @type {number} */ straws, /** @type {string} */ place) =>
    `${plural(straws, "straw")} seem${straws === 1 ? "s" : ""} to come from ${place}.`,
  candidates: "It may have to do with: ",
  elsewhere: "another goblet",
  foreign: "Read on them: ",
  stories: "What may have happened, the likeliest first",
  entry: (/** @type {number} */ seq) => `entry ${seq}`,
  recent: "The last acts here",
  act: (/** @type {any} */ one) => `${moment(one.occurred_at)}, ${one.by}: ${signed(one.change)}`,
  codes: (/** @type {number} */ codes) => `Which straws: ${plural(codes, "code")}`,
  again: "Count again",
  askedAgain: (/** @type {string} */ address) =>
    `${address} is to be counted again, best by somebody who has not seen the differences.`,
  propose: "Propose what the book should say",
  straws: "How many of them",
  reason: "Why",
  note: "What is known about it",
  noteHint: "Who was asked, what the papers say, where you looked.",
  send: "Propose it",
  sent: "Proposed. A manager who did not count here has to approve it.",
  moveButton: (/** @type {string} */ from, /** @type {string} */ to, /** @type {number} */ straws) =>
    `Propose to move ${plural(straws, "straw")} in the book from ${from} to ${to}`,
  moveNote: "They were counted there.",
};

/** @typedef {(id: string) => string|undefined} AddressOf */

/** @param {any} one */
function figures(one) {
  const cells = [one.expected, one.counted, signed(one.difference)];
  return el(
    "table",
    { class: "table table-figures" },
    el(
      "thead",
      {},
      el(
        "tr",
        {},
        [text.expected, text.counted, text.difference].map((name) => el("th", { scope: "col" }, name)),
      ),
    ),
    el(
      "tbody",
      {},
      el(
        "tr",
        {},
        cells.map((cell) => el("td", {}, cell)),
      ),
    ),
  );
}

/** Where they seem to stand instead. @param {any} one @param {AddressOf} addressOf */
function moveWords(one, addressOf) {
  if (!one.move) return null;
  const away = one.move.from_goblet_id === one.goblet_id;
  const other = away ? one.move.to_goblet_id : one.move.from_goblet_id;
  const what = (away ? text.there : text.here)(one.move.straws, addressOf(other) ?? text.elsewhere);
  return el("p", {}, text.move[/** @type {"certain"} */ (one.move.sure)](what));
}

/** Goblets or batches that may explain it. @param {any} one @param {AddressOf} addressOf @param {Map<string, string>} batches */
function candidates(one, addressOf, batches) {
  const names = one.candidates.map(
    (/** @type {string} */ id) => addressOf(id) ?? batches.get(id) ?? text.elsewhere,
  );
  return names.length > 0 && el("p", {}, text.candidates, [...new Set(names)].join("; "), ".");
}

/** @param {any} one */
function storiesOf(one) {
  if (!one.stories.length) return null;
  return [
    el("p", {}, el("strong", {}, text.stories)),
    el(
      "ol",
      { class: "stories" },
      one.stories.map((/** @type {any} */ story) =>
        el(
          "li",
          {},
          story.words,
          story.entry_seq && [
            " (",
            el("a", { href: `#/book?entry=${story.entry_seq}` }, text.entry(story.entry_seq)),
            ")",
          ],
        ),
      ),
    ),
  ];
}

/** @param {any} one */
function detailsOf(one) {
  return [
    one.recent_entries.length > 0 &&
      disclosure(
        text.recent,
        el(
          "ul",
          { class: "history" },
          one.recent_entries.map((/** @type {any} */ act) =>
            el(
              "li",
              {},
              el("span", { class: "what" }, kindInWords(act.kind)),
              el("span", { class: "who" }, text.act(act)),
            ),
          ),
        ),
      ),
    one.codes.length > 0 &&
      disclosure(
        text.codes(one.codes.length),
        el(
          "ul",
          { class: "code-grid" },
          one.codes.map((/** @type {string} */ code) =>
            el(
              "li",
              {},
              el("a", { class: "code code-link", href: `#/straws/${code}` }, groupedCode(code)),
            ),
          ),
        ),
      ),
  ];
}

/** @param {any} take @param {any} one */
function proposalForm(take, one) {
  const straws = numberField({
    name: "straws",
    label: text.straws,
    required: true,
    whole: true,
    least: 1,
    most: Math.abs(one.open),
    value: String(Math.abs(one.open)),
  });
  const reason = selectField({
    name: "reason_code",
    label: text.reason,
    required: true,
    none: "",
    options: Object.entries(REASONS).map(([value, words]) => ({ value, text: words })),
  });
  const note = areaField({ name: "note", label: text.note, hint: text.noteHint, required: true });
  const key = `adjust:${take.id}:${one.goblet_id}:${one.batch_id}`;
  return form({
    key,
    fields: () => [straws, reason, note],
    body: [straws.node, reason.node, note.node],
    submit: text.send,
    send: async (values) => {
      const difference = Math.sign(one.open) * values.straws;
      await sendAct(key, `/stock-takes/${take.id}/adjustments`, {
        goblet_id: one.goblet_id,
        batch_id: one.batch_id,
        difference,
        reason_code: values.reason_code,
        note: values.note,
      });
      toast(text.sent);
      refresh();
    },
  }).node;
}

/** A button that sends, and says beside it what went wrong. @param {string} words @param {() => Promise<string>} send  resolves to what is told */
export function actButton(words, send) {
  const said = el("div", { class: "form-part" });
  const button = el("button", { type: "button", class: "button" }, words);
  button.addEventListener("click", async () => {
    button.disabled = true;
    show(said);
    try {
      toast(await send());
      refresh();
    } catch (problem) {
      show(said, problemBox(problem, "book"));
      button.disabled = false;
    }
  });
  return el("div", { class: "form-part act" }, said, button);
}

/** @param {any} take @param {any} one @param {AddressOf} addressOf */
function moveButton(take, one, addressOf) {
  const move = moveOf(one);
  if (!move) return null;
  const other = addressOf(move.other_goblet_id) ?? text.elsewhere;
  const [from, to] = move.difference < 0 ? [one.address, other] : [other, one.address];
  return actButton(text.moveButton(from, to, Math.abs(move.difference)), async () => {
    await sendAct(`move-seen:${one.id}`, `/stock-takes/${take.id}/adjustments`, {
      ...move,
      reason_code: "found-elsewhere",
      note: text.moveNote,
    });
    return text.sent;
  });
}

/** @param {any} take @param {any} one @param {AddressOf} addressOf @param {Map<string, string>} batches */
function differenceView(take, one, addressOf, batches) {
  const { word, means, kind } = classInWords(one.class);
  const mine = iMay("audit") && take.state === "compared" && canPropose(one);
  return el(
    "div",
    { class: "difference" },
    el(
      "p",
      { class: "difference-head" },
      badge(word, kind),
      el("span", {}, one.batch_id ? text.of(one) : text.unnamed),
    ),
    figures(one),
    el("p", { class: "hint" }, means),
    one.batch_id && one.open !== one.difference && el("p", {}, el("strong", {}, text.dealt(one.open))),
    moveWords(one, addressOf),
    candidates(one, addressOf, batches),
    one.foreign.length > 0 && el("p", {}, text.foreign, one.foreign.join("; "), "."),
    one.note && !one.move && el("p", {}, one.note),
    storiesOf(one),
    detailsOf(one),
    mine && moveButton(take, one, addressOf),
    mine && disclosure(text.propose, proposalForm(take, one)),
  );
}

/** @param {any} take @param {ReturnType<typeof byGoblet>[number]} group @param {AddressOf} addressOf @param {Map<string, string>} batches */
function gobletView(take, group, addressOf, batches) {
  const id = group.goblet_id;
  return el(
    "section",
    { class: "difference-goblet", "aria-label": group.address },
    el("h3", {}, group.address),
    group.differences.map((one) => differenceView(take, one, addressOf, batches)),
    iMay("audit") &&
      take.state === "compared" &&
      actButton(text.again, async () => {
        const path = `/stock-takes/${take.id}/recounts`;
        await sendAct(`recount:${take.id}:${id}`, path, { goblet_ids: [id] });
        return text.askedAgain(group.address);
      }),
  );
}

/** Null while it is counted. @param {any} take @param {AddressOf} addressOf */
export function differencesPart(take, addressOf) {
  if (take.state === "counting") return null;
  const { differences } = take;
  if (!differences.length)
    return section(text.title, el("p", { class: "notice notice-good" }, text.none));
  const groups = byGoblet(differences);
  const named = differences.filter((/** @type {any} */ one) => one.batch_id);
  const batches = new Map(
    named.map((/** @type {any} */ one) => [one.batch_id, `batch ${groupedCode(one.batch_code)}`]),
  );
  return section(
    text.title,
    el("p", {}, text.overview(groups.length, classesInWords(differences))),
    groups.map((group) => gobletView(take, group, addressOf, batches)),
  );
}
