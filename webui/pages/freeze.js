/** Where a freeze begins: from a batch whose straws are marked already, or anew. */

import { get, search } from "../net/api.js";
import { link } from "../logic/routes.js";
import { showDay } from "../logic/times.js";
import { loadMarks } from "../net/bank.js";
import { codeText, el } from "../parts/dom.js";
import { markBadge } from "../parts/mark.js";
import { empty, growingList, page, rowLink, section, straws } from "../parts/page.js";

const text = {
  title: "Log a freeze",
  lead: "Straws are marked before they are filled. If that is done, start from the prepared batch.",
  prepared: "Prepared batches",
  none: "No prepared batch is waiting. Prepare one to get the codes first, or log the freeze anew.",
  ways: "Or",
  prepare: {
    name: "Prepare a batch first",
    hint: "Makes the codes, to mark the straws before filling",
  },
  bringIn: { name: "Bring in straws", hint: "Old stock, or what somebody sent: not frozen here" },
  anew: { name: "Log a freeze anew", hint: "Batch and codes are made when you book it" },
  day: (/** @type {string|null} */ day) =>
    day ? `collection of ${showDay(day)}` : "collection day open",
};

/** @param {any} batch @param {Map<string, any>} marks */
function row(batch, marks) {
  return rowLink({
    href: link("/freeze/new", { batch: batch.id }),
    mark: markBadge(marks.get(batch.stallion_id)),
    title: batch.stallion_name,
    detail: [codeText(batch.code), " · ", text.day(batch.collected_on)],
    end: straws(batch.straws_planned),
  });
}

/** @param {string} href @param {{name: string, hint: string}} words */
function door(href, { name, hint }) {
  return el(
    "a",
    { class: "door", href },
    el("span", { class: "door-name" }, name),
    el("span", {}, hint),
  );
}

export default async function freeze() {
  const marks = await loadMarks();
  const list = await growingList({
    label: text.prepared,
    none: empty(text.none),
    row: (batch) => row(batch, marks),
    load: (after) => get(`/batches${search({ state: "prepared", limit: 50, after })}`),
  });
  return page(
    { title: text.title, lead: text.lead },
    section(text.prepared, list),
    section(
      text.ways,
      el(
        "div",
        { class: "doors" },
        door("#/freeze/prepare", text.prepare),
        door("#/freeze/new", text.anew),
        door("#/receipts/new", text.bringIn),
      ),
    ),
  );
}
