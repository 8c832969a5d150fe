/** Every dose that was taken, newest first; those with straws still out stand out. */

import { get, search } from "../net/api.js";
import { loadMarks } from "../net/bank.js";
import { iMay, moment } from "../net/session.js";
import { withdrawalInWords } from "../logic/words.js";
import { markBadge } from "../parts/mark.js";
import { badge, empty, growingList, linkButton, page, rowLink, straws } from "../parts/page.js";

const text = {
  title: "Withdrawals",
  lead: "Every dose taken, the newest first.",
  none: "No dose has been taken yet.",
  take: { href: "#/dose", text: "Take a dose" },
  away: (/** @type {string} */ who) => `with ${who}`,
  row: (/** @type {any} */ one) => `${one.stallion_name} for ${one.mare_name}`,
};

/** @param {any} one @param {Map<string, any>} marks */
function row(one, marks) {
  return rowLink({
    href: `#/withdrawals/${one.id}`,
    mark: markBadge(marks.get(one.stallion_id)),
    title: text.row(one),
    detail: `${moment(one.occurred_at)} · ${one.by}${one.taken_by ? ` · ${text.away(one.taken_by)}` : ""}`,
    end: [
      straws(one.straws.length),
      " ",
      badge(withdrawalInWords(one.state), one.state === "lifted" ? "warn" : "plain"),
    ],
  });
}

export default async function withdrawals() {
  const marks = await loadMarks();
  return page(
    { title: text.title, lead: text.lead },
    iMay("book") && linkButton(text.take),
    await growingList({
      label: text.title,
      none: empty(text.none),
      row: (one) => row(one, marks),
      load: (after) => get(`/withdrawals${search({ limit: 50, after })}`),
    }),
  );
}
