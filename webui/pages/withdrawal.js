/** One withdrawal: the thaw card with its timer, then what becomes of the straws. */

import { get } from "../net/api.js";
import { recall } from "../net/keep.js";
import { paper } from "../net/labels.js";
import { iMay, moment } from "../net/session.js";
import { stepInWords } from "../logic/countdown.js";
import { ruleInWords } from "../logic/doses.js";
import { plural } from "../logic/numbers.js";
import { showDay } from "../logic/times.js";
import { withdrawalInWords } from "../logic/words.js";
import { caution } from "../parts/cautions.js";
import { codeText, el } from "../parts/dom.js";
import { disclosure, factList, linkButton, page, section } from "../parts/page.js";
import { paperLink } from "../parts/paper.js";
import { withdrawnStraws } from "../parts/withdrawn_straws.js";
import { thawTimer } from "../parts/timer.js";
import { outcomeForm, takeBackForm } from "../parts/outcome.js";

const text = {
  title: (/** @type {any} */ w) => `${w.stallion_name} for ${w.mare_name}`,
  back: { href: "#/withdrawals", text: "Withdrawals" },
  booked: (/** @type {any} */ w, /** @type {string} */ when) =>
    `${plural(w.straws.length, "straw")}, taken out ${when} by ${w.by}${w.taken_by ? `; they left the station with ${w.taken_by}` : ""}.`,
  out: (/** @type {number} */ count) =>
    `${plural(count, "straw")} still out. Say what becomes of ${count === 1 ? "it" : "them"}.`,
  thaw: "Thaw card",
  batch: "Batch ",
  unknown:
    "The book has no thaw protocol for this batch. Use the card of the laboratory that froze it.",
  thawCard: "Thaw card (PDF)",
  walkCard: "Walk card (PDF)",
  next: "What becomes of the straws",
  exchanged: (/** @type {any[]} */ all) =>
    `The book had taken ${all.length === 1 ? "another twin" : "other twins"} than your scans say, and has exchanged ${all.length === 1 ? "the two" : "them"}: `,
  forWhich: " went, in store again is ",
  insemination: "Record the insemination",
  putBack: "Put straws back",
  discard: "Discard the rest",
  lost: "Some are lost",
  straws: "The straws",
  record: "On the record",
  facts: {
    state: "State",
    rule: "Rule then",
    mare: "Mare",
    doses: "Doses",
    override: "Reason against the rule",
    reserve: "Reserve given up because",
    takenBy: "Left the station with",
  },
  inseminations: "Insemination",
  used: "Used",
  unused: "Thawed, not used",
  at: "At",
  method: "Method",
  note: "Note",
  by: "Recorded by",
  outcome: "Outcome",
  pregnant: (/** @type {any} */ o) =>
    `${o.pregnant ? "pregnant" : "not pregnant"}, checked ${showDay(o.checked_on)}`,
  takeBack: "It was recorded by mistake",
  addOutcome: "Record an outcome",
};

/** One protocol and the batches it is for. @param {string[]} codes @param {any[]|null} steps */
function thawCard(codes, steps) {
  return el(
    "div",
    { class: "thaw" },
    el(
      "p",
      {},
      el(
        "strong",
        {},
        text.batch,
        codes.map((code, i) => [i ? ", " : "", codeText(code)]),
      ),
    ),
    steps?.length
      ? [
          el(
            "ol",
            { class: "thaw-steps print-only" },
            steps.map((step) => el("li", {}, stepInWords(step))),
          ),
          thawTimer(steps),
        ]
      : el("p", { class: "notice notice-warn" }, text.unknown),
  );
}

/** Batches with the same protocol share a card. @param {any[]} thaw */
function cards(thaw) {
  const found = new Map();
  for (const one of thaw) {
    const key = JSON.stringify(one.steps ?? null);
    found.set(key, { steps: one.steps, codes: [...(found.get(key)?.codes ?? []), one.batch_code] });
  }
  return [...found.values()].map(({ codes, steps }) => thawCard(codes, steps));
}

/** What the scans of this booking put right. @param {string} id */
function exchangedNote(id) {
  const all = recall(`exchanged:${id}`);
  if (!all?.length) return null;
  return el(
    "p",
    { class: "notice no-print" },
    text.exchanged(all),
    all.map((/** @type {any} */ one, /** @type {number} */ i) => [
      i > 0 && "; ",
      codeText(one.out),
      text.forWhich,
      codeText(one.in),
    ]),
    ".",
  );
}

/** @param {any} w */
function nextSteps(w) {
  const out = w.straws.filter((/** @type {any} */ one) => one.state === "lifted").length;
  if (!out || !iMay("book")) return null;
  const next = section(
    text.next,
    el("p", {}, text.out(out)),
    linkButton({
      href: `#/withdrawals/${w.id}/insemination`,
      text: text.insemination,
      kind: "primary",
    }),
    el(
      "p",
      { class: "ways" },
      linkButton({ href: `#/withdrawals/${w.id}/return`, text: text.putBack }),
      linkButton({ href: `#/withdrawals/${w.id}/discard`, text: text.discard }),
      linkButton({ href: `#/withdrawals/${w.id}/lost`, text: text.lost }),
    ),
  );
  next.classList.add("no-print");
  return next;
}

/** @param {any} one */
function inseminationCard(one) {
  return el(
    "div",
    { class: "card" },
    factList([
      [text.at, moment(one.inseminated_at)],
      [text.used, plural(one.straws_used, "straw")],
      [text.unused, one.straws_thawed_unused > 0 && plural(one.straws_thawed_unused, "straw")],
      [text.method, one.method],
      [text.note, one.note],
      [text.by, one.by],
      [text.outcome, one.outcome && text.pregnant(one.outcome)],
    ]),
    iMay("book") && [
      disclosure(text.addOutcome, outcomeForm(one)),
      disclosure(text.takeBack, takeBackForm(one)),
    ],
  );
}

/** @param {any} w */
function record(w) {
  const f = text.facts;
  return section(
    text.record,
    factList([
      [f.state, withdrawalInWords(w.state)],
      [f.mare, el("a", { href: `#/mares/${w.mare_id}` }, w.mare_name)],
      [f.takenBy, w.taken_by],
      [f.doses, w.doses],
      [f.rule, w.rule && ruleInWords(w.rule)],
      [f.override, w.override_reason],
      [f.reserve, w.release_reserve],
    ]),
  );
}

/** @param {import("../parts/page.js").Context} context */
export default async function withdrawalPage({ params }) {
  const w = await get(`/withdrawals/${params.id}`);
  const out = w.straws.some((/** @type {any} */ one) => one.state === "lifted");
  const card = (/** @type {"walk"|"thaw"} */ kind) => paper(`withdrawals/${w.id}`, { card: kind });
  const papers = el(
    "p",
    { class: "ways" },
    paperLink({ url: card("thaw"), words: text.thawCard }),
    paperLink({ url: card("walk"), words: text.walkCard }),
  );
  return page(
    {
      title: text.title(w),
      lead: text.booked(w, moment(w.occurred_at)),
      back: text.back,
      kind: "dose",
    },
    exchangedNote(w.id),
    out && [caution("thawing"), section(text.thaw, cards(w.thaw), papers)],
    nextSteps(w),
    w.inseminations.length > 0 &&
      section(text.inseminations, w.inseminations.map(inseminationCard)),
    section(text.straws, withdrawnStraws(w)),
    record(w),
  );
}
