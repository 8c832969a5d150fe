/** One batch: what was frozen, where it is, its post-thaw result, its hold, its codes. */

import { get } from "../net/api.js";
import { forget, recall } from "../net/keep.js";
import { iMay, moment } from "../net/session.js";
import { stepInWords } from "../logic/countdown.js";
import { plural, showNumber } from "../logic/numbers.js";
import { link } from "../logic/routes.js";
import { showDay } from "../logic/times.js";
import { stateInWords } from "../logic/words.js";
import { clearancePart } from "../parts/clearance.js";
import { codeText, el } from "../parts/dom.js";
import { holdPart } from "../parts/hold.js";
import { announce } from "../parts/live.js";
import { badge, factList, linkButton, page, section, straws } from "../parts/page.js";

const text = {
  title: (/** @type {any} */ b) =>
    `${b.stallion_name}, ${b.collected_on ? showDay(b.collected_on) : dayOpen(b)}`,
  back: { href: "#/batches", text: "Batches" },
  batch: "Batch ",
  stored: (/** @type {any} */ b) =>
    `${plural(b.straws_stored, "straw")} booked. ${coded(b) ? text.codesBelow : text.byCount}`,
  codesBelow: "The codes for each goblet are below.",
  byCount: "They have no labels, so they go by count.",
  prepared: "Prepared: the codes exist, nothing is filled yet.",
  void: "Void: all its straws were taken back.",
  freeze: "Log its freeze",
  labels: "Labels of its straws",
  codes: "List of codes",
  plate: "Its plate",
  now: "What is left",
  figures: {
    stored: "In the bank",
    perDose: "Straws a dose",
    doses: "Doses",
    perStraw: "Progressive in a thawed straw",
  },
  million: "million",
  noDoses:
    "No doses are counted: the stallion’s rule asks for a post-thaw result, or this one is below the rule.",
  postThaw: "Record a post-thaw result",
  dispatch: "Dispatch straws of it",
  hold: "on hold",
  where: "Where the straws are",
  elsewhere: "No longer in the bank",
  none: "None of its straws is in the bank.",
  about: "How it was frozen",
  known: "What is known of it",
  unknown: "not known",
  origins: /** @type {Record<string, string>} */ ({
    opening: "here before this book",
    received: "came from somebody else",
  }),
  facts: {
    origin: "Origin",
    from: "Came from",
    marks: "On the straws",
    collected: "Collected",
    where: "Collected at",
    approval: "Approval number",
    size: "Straw size",
    load: "In the straw",
    collection: "Collection",
    recovery: "Recovered",
    extender: "Extender",
    colour: "Straw colour",
    postThaw: "Post-thaw",
    thaw: "Thawing",
    note: "Note",
    planned: "Codes made",
  },
  minutes: (/** @type {any} */ p) =>
    `${showNumber(p.progressive_motility_percent)} % progressive${p.minutes ? ` after ${showNumber(p.minutes)} min` : ""}`,
  all: "All codes",
  unlabelled: "Without labels",
};

/** @param {any} b */
const frozenHere = (b) => b.origin === "frozen";

/** @param {any} b */
const coded = (b) => b.straws.some((/** @type {any} */ straw) => straw.code);

/** @param {any} b */
function dayOpen(b) {
  return frozenHere(b) ? "collection day open" : "collection day not known";
}

/** @param {string} name @param {any} value @param {string} [unit] */
function figure(name, value, unit) {
  return el(
    "div",
    { class: "figure" },
    el("dt", {}, name),
    el("dd", {}, value, unit && el("small", {}, ` ${unit}`)),
  );
}

/** @param {any} b */
function figures(b) {
  const f = text.figures;
  return [
    el(
      "dl",
      { class: "figures" },
      figure(f.stored, straws(b.straws_stored)),
      b.straws_per_dose && figure(f.perDose, showNumber(b.straws_per_dose)),
      b.doses !== null && figure(f.doses, showNumber(b.doses)),
      b.progressive_million_per_straw !== null &&
        figure(
          f.perStraw,
          showNumber(b.progressive_million_per_straw, { decimals: 1, down: true }),
          text.million,
        ),
    ),
    b.doses === null &&
      b.straws_stored > 0 &&
      el("p", { class: "notice notice-warn" }, text.noDoses),
  ];
}

/** Codes of the stored straws by goblet. @param {any} b @param {boolean} open */
function places(b, open) {
  const found = new Map();
  for (const straw of b.straws) {
    if (straw.state === "stored")
      found.set(straw.goblet_id, [...(found.get(straw.goblet_id) ?? []), straw]);
  }
  if (!found.size) return el("p", { class: "hint" }, text.none);
  return [...found.entries()].map(([id, inside]) =>
    el(
      "div",
      { class: "card" },
      el(
        "p",
        { class: "goblet-head" },
        el("a", { class: "address", href: `#/bank/goblet/${id}` }, inside[0].address),
        el("strong", {}, straws(inside.length)),
      ),
      el(
        "p",
        {},
        el("a", { class: "line-link", href: `#/bank/goblet/${id}/plates` }, text.plate),
      ),
      inside.some((/** @type {any} */ straw) => straw.code)
        ? el(
            "details",
            { class: "more", open: open && inside.length <= 200 },
            el("summary", {}, text.all),
            codeGrid(inside),
          )
        : el("p", { class: "hint" }, text.unlabelled),
    ),
  );
}

/** @param {any[]} inside */
function codeGrid(inside) {
  return el(
    "ul",
    { class: "code-grid" },
    inside.map((straw) =>
      el(
        "li",
        {},
        straw.code
          ? el("a", { class: "code-link", href: `#/straws/${straw.code}` }, codeText(straw.code))
          : codeText(null),
      ),
    ),
  );
}

/** @param {any} b */
function gone(b) {
  const counts = new Map();
  for (const straw of b.straws) {
    if (straw.state !== "stored") counts.set(straw.state, (counts.get(straw.state) ?? 0) + 1);
  }
  return (
    counts.size > 0 &&
    section(
      text.elsewhere,
      factList([...counts].map(([state, count]) => [stateInWords(state), String(count)])),
    )
  );
}

/** What is known of the ejaculate. @param {any} collection */
function collectionInWords({
  volume_ml,
  concentration_million_per_ml,
  progressive_motility_percent,
}) {
  return [
    `${showNumber(volume_ml)} mL`,
    concentration_million_per_ml !== null &&
      `${showNumber(concentration_million_per_ml)} million per mL`,
    progressive_motility_percent !== null &&
      `${showNumber(progressive_motility_percent)} % progressive`,
  ]
    .filter(Boolean)
    .join(", ");
}

/** @param {any} b */
function about(b) {
  const f = text.facts;
  // Of a batch from elsewhere it is told that nobody knows; here, what is empty was not filled in.
  const open = !frozenHere(b) && text.unknown;
  return factList([
    [f.origin, text.origins[b.origin]],
    [f.from, b.received_from],
    [f.marks, !frozenHere(b) && el("span", { class: "code" }, b.marks_as_read ?? text.unknown)],
    [
      f.collected,
      b.collected_at ? moment(b.collected_at) : b.collected_on ? showDay(b.collected_on) : open,
    ],
    [f.where, b.collected_where || open],
    [f.approval, b.approval_number || open],
    [f.size, b.straw_volume_ml ? `${showNumber(b.straw_volume_ml)} mL` : open],
    [
      f.load,
      b.straw_concentration_million_per_ml
        ? `${showNumber(b.straw_concentration_million_per_ml)} million per mL`
        : open,
    ],
    [f.collection, b.collection && collectionInWords(b.collection)],
    [f.recovery, b.recovery_percent !== null && `${showNumber(b.recovery_percent)} %`],
    [f.extender, b.extender],
    [f.colour, b.straw_colour || open],
    [f.postThaw, b.post_thaw ? text.minutes(b.post_thaw) : open],
    [f.thaw, b.thaw ? b.thaw.steps.map(stepInWords).join(", then ") : open],
    [f.planned, coded(b) && b.straws_planned],
    [f.note, b.note],
  ]);
}

/** The warnings of the freeze that was just booked. @param {string} id */
function freshWarnings(id) {
  const done = recall(`freeze-done:${id}`);
  return (done?.warnings ?? []).map((/** @type {any} */ one) =>
    el("p", { class: "notice notice-warn" }, one.message),
  );
}

/** What the last act on this page was answered, once. @param {string} id */
function told(id) {
  const kept = recall(`batch-told:${id}`);
  forget(`batch-told:${id}`);
  if (!kept) return null;
  announce([kept.done, ...kept.warnings].join(" "));
  return [
    el("p", { class: "notice notice-good" }, kept.done),
    kept.warnings.map((/** @type {string} */ one) =>
      el("p", { class: "notice notice-warn" }, one),
    ),
  ];
}

/** @param {any} b */
function doing(b) {
  if (!iMay("book")) return null;
  if (b.state === "prepared") {
    return linkButton({
      href: link("/freeze/new", { batch: b.id }),
      text: text.freeze,
      kind: "primary",
    });
  }
  return (
    b.straws_stored > 0 && [
      linkButton({ href: `#/batches/${b.id}/post-thaw`, text: text.postThaw }),
      !b.on_hold &&
        linkButton({ href: link("/dispatch/new", { batch: b.id }), text: text.dispatch }),
    ]
  );
}

/** @param {any} b */
function papers(b) {
  return el(
    "p",
    { class: "ways" },
    linkButton({ href: `#/batches/${b.id}/labels`, text: text.labels }),
    linkButton({ href: `#/batches/${b.id}/codes`, text: text.codes }),
  );
}

/** @param {import("../parts/page.js").Context} context */
export default async function batchPage({ params, query }) {
  const b = await get(`/batches/${params.id}`);
  const fresh = query.get("stored") === "1";
  return page(
    { title: text.title(b), lead: [text.batch, codeText(b.code)], back: text.back },
    told(b.id),
    fresh && el("p", { class: "notice notice-good" }, text.stored(b)),
    fresh && freshWarnings(b.id),
    b.on_hold && el("p", {}, badge(text.hold, "warn")),
    b.state === "frozen"
      ? section(text.now, figures(b))
      : el("p", { class: "notice" }, b.state === "void" ? text.void : text.prepared),
    doing(b),
    coded(b) && papers(b),
    b.state === "frozen" && section(text.where, places(b, fresh)),
    gone(b),
    clearancePart(b),
    holdPart(b),
    section(frozenHere(b) ? text.about : text.known, about(b)),
  );
}
