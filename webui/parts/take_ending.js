/** The end of a stock-take: the auditor's signature, the closing, the report. */

import { sendAct } from "../net/acts.js";
import { iMay, moment } from "../net/session.js";
import { isOpen, leftToCount } from "../logic/stock_takes.js";
import { plural } from "../logic/numbers.js";
import { el } from "./dom.js";
import { areaField, suggestField } from "./fields.js";
import { form } from "./form.js";
import { refresh } from "./go.js";
import { toast } from "./live.js";
import { disclosure, section } from "./page.js";

const text = {
  sign: "Signatures",
  signed: (/** @type {any} */ one) => `${one.by}, ${one.role}: ${one.meaning}`,
  quoted: (/** @type {string} */ note) => `“${note}”`,
  noSign: "Nobody has signed it yet.",
  signWays: "Sign it",
  meaning: "What your signature means",
  meanings: ["Reviewed: the count was done as it should be", "Reviewed with reservations", "I was there and saw the count"],
  note: "What you want to say with it",
  signIt: "Sign",
  signDone: "Signed. Your name and the time stand in the book.",
  close: "Closing",
  closeWays: "Close this stock-take",
  closeHint: "The report is made and kept as it is, and its mark stands in the book. Nothing in this stock-take changes afterwards.",
  uncounted: (/** @type {number} */ left) =>
    `${plural(left, "goblet")} ${left === 1 ? "is" : "are"} still to be counted. Then it can be closed.`,
  compareFirst: "Something was counted since the last comparison. Compare once more, then close.",
  open: (/** @type {number} */ open) =>
    `${plural(open, "difference")} ${open === 1 ? "is" : "are"} still open. Say why ${open === 1 ? "it stays" : "they stay"} so.`,
  waiting: (/** @type {number} */ waiting) =>
    `${plural(waiting, "proposal")} ${waiting === 1 ? "is" : "are"} not approved yet. Once it is closed, nobody can approve ${waiting === 1 ? "it" : "them"}.`,
  why: "Why they stay open",
  closeIt: "Close and make the report",
  closed: "Closed. The report is kept.",
  report: "The report",
  draft: "A draft: it is not closed yet, and says so on each page.",
  final: "As it was closed; a copy can be checked on any computer against its mark in the book.",
  mark: "Its mark: ",
  pdf: "Report on paper (PDF)",
  json: "Report for computers (JSON)",
  evidence: "Report, book and checker for another computer (ZIP)",
};

/** @param {any} take */
function signatures(take) {
  if (!take.reviews.length) return el("p", { class: "hint" }, text.noSign);
  return el(
    "ul",
    { class: "history" },
    take.reviews.map((/** @type {any} */ one) =>
      el(
        "li",
        {},
        el("span", { class: "what" }, text.signed(one)),
        one.note && el("span", {}, text.quoted(one.note)),
        el("span", { class: "who" }, moment(one.at)),
      ),
    ),
  );
}

/** @param {any} take */
function signForm(take) {
  const fields = [
    suggestField({ name: "meaning", label: text.meaning, required: true, suggestions: text.meanings, value: text.meanings[0] }),
    areaField({ name: "note", label: text.note }),
  ];
  const key = `review:${take.id}`;
  return form({
    key,
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit: text.signIt,
    send: async (values) => {
      await sendAct(key, `/stock-takes/${take.id}/reviews`, values);
      toast(text.signDone);
      refresh();
    },
  }).node;
}

/** @param {any} take */
export function signPart(take) {
  if (take.state === "counting") return null;
  return section(
    text.sign,
    signatures(take),
    iMay("sign") && disclosure(text.signWays, signForm(take)),
  );
}

/** @param {any} take */
function closeForm(take) {
  const open = take.differences.filter(isOpen).length;
  const waiting = take.adjustments.filter((/** @type {any} */ one) => one.state === "proposed").length;
  const note = areaField({ name: "note", label: text.why, required: true });
  const key = `close:${take.id}`;
  return form({
    key,
    fields: () => (open ? [note] : []),
    body: [
      el("p", { class: "hint" }, text.closeHint),
      waiting > 0 && el("p", { class: "notice notice-warn" }, text.waiting(waiting)),
      open > 0 && el("p", { class: "notice notice-warn" }, text.open(open)),
      open > 0 && note.node,
    ],
    submit: text.closeIt,
    send: async (values) => {
      await sendAct(key, `/stock-takes/${take.id}/close`, values);
      toast(text.closed);
      refresh();
    },
  }).node;
}

/** @param {any} take */
export function closePart(take) {
  if (!iMay("audit") || take.state === "closed" || !take.compared_at) return null;
  const left = leftToCount(take.goblets).length;
  if (left) return section(text.close, el("p", {}, text.uncounted(left)));
  if (take.state === "counting") return section(text.close, el("p", {}, text.compareFirst));
  return section(text.close, disclosure(text.closeWays, closeForm(take)));
}

/** @param {string} href @param {string} words */
function paper(href, words) {
  return el("a", { class: "button", href, target: "_blank", rel: "noopener" }, words);
}

/** While it is counted the report would say what the book expects. @param {any} take */
export function reportPart(take) {
  const closed = take.state === "closed";
  if (take.state === "counting" || (!closed && !iMay("audit"))) return null;
  const path = `/api/stock-takes/${take.id}/report`;
  return section(
    text.report,
    el("p", { class: "hint" }, closed ? text.final : text.draft),
    closed && el("p", { class: "hint" }, text.mark, el("span", { class: "code hash" }, take.report_sha256)),
    el("p", { class: "ways" }, paper(`${path}.pdf`, text.pdf), paper(`${path}.json`, text.json),
      closed && paper(`/api/stock-takes/${take.id}/evidence.zip`, text.evidence)),
  );
}
