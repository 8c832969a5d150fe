/** All batches, newest first. */

import { get, search } from "../net/api.js";
import { loadMarks } from "../net/bank.js";
import { iMay } from "../net/session.js";
import { showDay } from "../logic/times.js";
import { codeText } from "../parts/dom.js";
import { markBadge } from "../parts/mark.js";
import { badge, empty, growingList, linkButton, page, rowLink, straws } from "../parts/page.js";

const text = {
  title: "Batches",
  lead: "All straws of one freeze of one collection, the newest first.",
  none: "There is no batch yet. Prepare one, or log a freeze.",
  freeze: { href: "#/freeze", text: "Log a freeze" },
  prepared: "prepared",
  void: "void",
  hold: "on hold",
  collected: (/** @type {string|null} */ day) => (day ? `, collected ${showDay(day)}` : ""),
  stored: (/** @type {any} */ one) =>
    one.state === "prepared" ? `${one.straws_planned} planned` : straws(one.straws_stored),
};

/** @param {any} one @param {Map<string, any>} marks */
function row(one, marks) {
  return rowLink({
    href: `#/batches/${one.id}`,
    mark: markBadge(marks.get(one.stallion_id), { colour: one.straw_colour }),
    title: one.stallion_name,
    detail: [codeText(one.code), text.collected(one.collected_on)],
    end: [
      text.stored(one),
      one.state === "prepared" && [" ", badge(text.prepared)],
      one.state === "void" && [" ", badge(text.void)],
      one.on_hold && [" ", badge(text.hold, "warn")],
    ],
  });
}

export default async function batches() {
  const marks = await loadMarks();
  return page(
    { title: text.title, lead: text.lead },
    iMay("book") && linkButton(text.freeze),
    await growingList({
      label: text.title,
      none: empty(text.none),
      row: (one) => row(one, marks),
      load: (after) => get(`/batches${search({ limit: 50, after })}`),
    }),
  );
}
