/** What was proposed to set the book right, by whom, and the approval that books it. */

import { sendAct } from "../net/acts.js";
import { iMay, moment } from "../net/session.js";
import { groupedCode } from "../logic/codes.js";
import { adjustmentInWords, reasonInWords } from "../logic/stock_takes.js";
import { el } from "./dom.js";
import { badge, section } from "./page.js";
import { actButton } from "./take_differences.js";

const text = {
  title: "Proposals",
  lead: "Booked once a manager approves who neither proposed it nor counted that goblet.",
  elsewhere: "another goblet",
  batch: (/** @type {string} */ code) => `batch ${groupedCode(code)}`,
  why: (/** @type {string} */ reason, /** @type {string} */ note) => `${reason}: “${note}”`,
  proposed: (/** @type {any} */ one) =>
    `Proposed by ${one.proposed_by} on ${moment(one.proposed_at)}.`,
  approved: (/** @type {any} */ one) =>
    `Approved by ${one.approved_by} on ${moment(one.approved_at)}, `,
  entry: (/** @type {number} */ seq) => `entry ${seq} of the book`,
  waits: "waits for approval",
  booked: "booked",
  never: "not approved",
  approve: "Approve and book",
  done: "It is booked.",
};

/** @param {any} take @param {any} one @param {import("./take_differences.js").AddressOf} addressOf */
function proposal(take, one, addressOf) {
  const other = addressOf(one.other_goblet_id) ?? text.elsewhere;
  const waits = one.state === "proposed";
  return el(
    "li",
    { class: "proposal" },
    el(
      "p",
      { class: "difference-head" },
      adjustmentInWords(one, other),
      waits
        ? badge(take.state === "closed" ? text.never : text.waits, "warn")
        : badge(text.booked, "good"),
    ),
    el("p", {}, text.batch(one.batch_code)),
    el("p", {}, text.why(reasonInWords(one.reason_code), one.note)),
    el("p", { class: "row-detail" }, text.proposed(one)),
    !waits &&
      el(
        "p",
        { class: "row-detail" },
        text.approved(one),
        el("a", { href: `#/book?entry=${one.entry_seq}` }, text.entry(one.entry_seq)),
        ".",
      ),
    waits &&
      take.state !== "closed" &&
      iMay("manage") &&
      actButton(text.approve, async () => {
        const path = `/stock-takes/${take.id}/adjustments/${one.id}/approve`;
        await sendAct(`approve:${one.id}`, path, {});
        return text.done;
      }),
  );
}

/** @param {any} take @param {import("./take_differences.js").AddressOf} addressOf */
export function adjustmentsPart(take, addressOf) {
  if (!take.adjustments.length) return null;
  return section(
    text.title,
    el("p", { class: "hint" }, text.lead),
    el(
      "ul",
      { class: "rows" },
      take.adjustments.map((/** @type {any} */ one) => proposal(take, one, addressOf)),
    ),
  );
}
