/** Everything that left for another place, newest first. */

import { get, search } from "../net/api.js";
import { iMay, moment } from "../net/session.js";
import { badge, empty, growingList, linkButton, page, rowLink, straws } from "../parts/page.js";

const text = {
  title: "Dispatches",
  lead: "Straws that left for another place, the newest first.",
  none: "Nothing has been dispatched yet.",
  add: { href: "#/dispatch/new", text: "Dispatch straws" },
  back: "taken back",
  seal: (/** @type {string} */ number) => `seal ${number}`,
};

/** @param {any} one */
function row(one) {
  return rowLink({
    href: `#/dispatches/${one.id}`,
    title: one.to,
    detail: [
      one.stallion_names.join(", "),
      moment(one.occurred_at),
      one.seal_number && text.seal(one.seal_number),
    ]
      .filter(Boolean)
      .join(" · "),
    end: [
      straws(one.straws),
      one.state === "taken-back" && [" ", badge(text.back, "warn")],
    ],
  });
}

export default async function dispatches() {
  return page(
    { title: text.title, lead: text.lead },
    iMay("book") && linkButton(text.add),
    await growingList({
      label: text.title,
      none: empty(text.none),
      row,
      load: (after) => get(`/dispatches${search({ limit: 50, after })}`),
    }),
  );
}
