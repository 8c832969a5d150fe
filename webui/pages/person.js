/** One person: who they are, what they did in the book, and what happened to their account. */

import { get, search } from "../net/api.js";
import { accountEvents, mayReadAccounts } from "../parts/account_events.js";
import { changesPart } from "../parts/changes.js";
import { el } from "../parts/dom.js";
import { entryCard } from "../parts/entry_card.js";
import { badge, empty, growingList, later, page, section } from "../parts/page.js";

const text = {
  back: { href: "#/people", text: "People" },
  closed: "account closed",
  did: "What they did in the book, the newest first",
  nothing: "Nothing of theirs stands in the book yet.",
  account: "What happened to their account, and what they did to others’",
};

/** @param {import("../parts/page.js").Context} context */
export default async function personPage({ params }) {
  const one = await get(`/people/${params.id}`);
  return page(
    { title: one.display_name, lead: `${one.username} · ${one.role}`, back: text.back },
    one.disabled && el("p", {}, badge(text.closed, "warn")),
    section(
      text.did,
      await growingList({
        label: text.did,
        none: empty(text.nothing),
        row: entryCard,
        load: (after) =>
          get(`/ledger${search({ limit: 25, newest_first: "true", person: one.id, after })}`),
      }),
    ),
    changesPart(`/people/${one.id}`),
    mayReadAccounts() && later(text.account, () => accountEvents(one.id)),
  );
}
