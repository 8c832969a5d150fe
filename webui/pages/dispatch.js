/** One dispatch: its packing list on paper, its seals, how long the shipper holds, taking it back. */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { recall } from "../net/keep.js";
import { iMay, moment } from "../net/session.js";
import { plural, showNumber } from "../logic/numbers.js";
import { stateInWords } from "../logic/words.js";
import { caution } from "../parts/cautions.js";
import { el } from "../parts/dom.js";
import { momentField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { packingCards, packingPaper } from "../parts/packing_list.js";
import {
  badge,
  disclosure,
  factList,
  linkButton,
  page,
  plainRow,
  section,
} from "../parts/page.js";
import { strawRows } from "../parts/straw_rows.js";

const text = {
  title: (/** @type {any} */ d) => `Dispatch to ${d.to}`,
  back: { href: "#/dispatches", text: "Dispatches" },
  lead: (/** @type {any} */ d) =>
    `${plural(d.straws.length, "straw")}, left ${moment(d.occurred_at)}, booked by ${d.by}.`,
  takenBack: (/** @type {any} */ b) =>
    `Taken back on ${moment(b.at)} by ${b.by}: ${b.reason ?? "no reason given"}. The straws are in the bank again, and its papers are void.`,
  print: "Print the packing list",
  facts: {
    number: "Their approval number",
    container: "Container",
    carrier: "Carrier",
    note: "Note",
  },
  about: "On the record",
  packing: "Packing list",
  seals: "Seals",
  noSeal: "No seal is on record.",
  on: "on it",
  off: "replaced",
  sealed: (/** @type {any} */ seal) => `${moment(seal.applied_at)} · ${seal.by}`,
  replace: "Replace the seal",
  first: "Put a seal on record",
  number: "Number of the new seal",
  reason: "Why, and by whom it was opened",
  firstReason: "Remark",
  applied: "Put on at",
  appliedHint: "Leave empty for just now.",
  sealHint: "An official vet may open a container and seal it anew. The seals before stay readable.",
  sealDone: "The seal is on record.",
  holding: "How long the shipper stays cold",
  cautious: "Cautiously until",
  rated: "At most until",
  filled: "Filled at",
  days: (/** @type {number} */ days) => `${showNumber(days, { decimals: 1, down: true })} days`,
  maker: "Reckoned with",
  straws: "Its straws",
  comeBack: "Some of these straws came back",
  takeBack: "Take this dispatch back",
  takeBackHint:
    "When it never left, or was booked wrongly. The straws go back into their goblets in the book; the entry stays.",
  why: "Reason",
  takeBackSubmit: "Take it back",
  takeBackDone: "Taken back.",
};

/** @param {any} d */
function holdingPart(d) {
  const h = d.holding;
  if (!h) return null;
  return section(
    text.holding,
    factList([
      [text.cautious, moment(h.cautious_until)],
      [text.rated, moment(h.holds_until)],
      [text.filled, moment(h.filled_at)],
      [text.maker, text.days(h.holding_days)],
    ]),
    el("p", { class: "hint" }, h.assumption),
    el(
      "ul",
      {},
      h.cautions.map((/** @type {string} */ line) => el("li", {}, line)),
    ),
  );
}

/** @param {any} d */
function sealsPart(d) {
  const newest = [...d.seals].reverse();
  return section(
    text.seals,
    newest.length
      ? el(
          "ul",
          { class: "rows", "aria-label": text.seals },
          newest.map((seal, i) => el("li", {}, sealRow(seal, i === 0))),
        )
      : el("p", { class: "hint" }, text.noSeal),
    iMay("book") &&
      !d.taken_back &&
      disclosure(newest.length ? text.replace : text.first, sealForm(d)),
  );
}

/** @param {any} seal @param {boolean} on */
function sealRow(seal, on) {
  return plainRow({
    title: seal.number,
    detail: [text.sealed(seal), seal.reason && ` · ${seal.reason}`],
    end: badge(on ? text.on : text.off, on ? "good" : "plain"),
  });
}

/** @param {any} d */
function sealForm(d) {
  const fields = [
    textField({ name: "number", label: text.number, required: true }),
    textField({
      name: "reason",
      label: d.seals.length ? text.reason : text.firstReason,
      hint: d.seals.length ? text.sealHint : undefined,
      required: true,
    }),
    momentField({ name: "applied_at", label: text.applied, hint: text.appliedHint }),
  ];
  const key = `seal:${d.id}`;
  return form({
    key,
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit: d.seals.length ? text.replace : text.first,
    draft: false,
    send: async (values) => {
      await sendAct(key, `/dispatches/${d.id}/seals`, values);
      toast(text.sealDone);
      refresh();
    },
  }).node;
}

/** @param {any} d */
function takeBackForm(d) {
  const reason = textField({ name: "reason", label: text.why, required: true });
  const key = `correct:${d.id}`;
  return form({
    key,
    kind: "danger",
    fields: () => [reason],
    body: [el("p", {}, text.takeBackHint), reason.node],
    submit: text.takeBackSubmit,
    draft: false,
    send: async (values) => {
      await sendAct(key, `/ledger/${d.id}/correct`, values);
      toast(text.takeBackDone);
      refresh();
    },
  }).node;
}

/** @param {any} d */
function strawsPart(d) {
  return disclosure(
    text.straws,
    strawRows(text.straws, d.straws, (one) => ({
      detail: one.address,
      said: one.state !== "dispatched" && stateInWords(one.state),
    })),
  );
}

/** @param {any} d */
function record(d) {
  const f = text.facts;
  return section(
    text.about,
    factList([
      [f.number, d.to_approval_number],
      [f.container, d.container],
      [f.carrier, d.carrier],
      [f.note, d.note],
    ]),
  );
}

/** What was odd when it was booked, in this tab. @param {any} d */
function freshWarnings(d) {
  if (d.taken_back) return null;
  return (recall(`dispatch-done:${d.id}`) ?? []).map((/** @type {any} */ one) =>
    el("p", { class: "notice notice-warn" }, one.message),
  );
}

/** @param {import("../parts/page.js").Context} context */
export default async function dispatchPage({ params }) {
  const d = await get(`/dispatches/${params.id}`);
  const print = el("button", { type: "button", class: "button button-primary" }, text.print);
  print.addEventListener("click", () => window.print());
  const told = [d.to_approval_number, d.container, d.carrier, d.note].some(Boolean);
  return page(
    { title: text.title(d), lead: text.lead(d), back: text.back, kind: "dispatch" },
    packingPaper(d),
    el(
      "div",
      { class: "no-print form-part" },
      d.taken_back && el("p", { class: "notice notice-warn" }, text.takenBack(d.taken_back)),
      freshWarnings(d),
      el("p", { class: "ways" }, print),
      section(text.packing, packingCards(d.packing_list)),
      sealsPart(d),
      told && record(d),
      holdingPart(d),
      strawsPart(d),
      iMay("book") &&
        d.straws.some((/** @type {any} */ one) => one.code && one.state === "dispatched") &&
        linkButton({ href: `#/dispatches/${d.id}/back`, text: text.comeBack }),
      iMay("book") && !d.taken_back && disclosure(text.takeBack, takeBackForm(d)),
    ),
    caution("dispatching"),
  );
}
