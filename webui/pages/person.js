/** One person: who they are, what they did in the book, and what happened to their account. */

import { get, search } from "../net/api.js";
import { accountEvents, mayReadAccounts } from "../parts/account_events.js";
import { changeRow, changesPart } from "../parts/changes.js";
import { el } from "../parts/dom.js";
import { entryCard } from "../parts/entry_card.js";
import { badge, empty, growingList, later, page, section } from "../parts/page.js";

const text = {
  back: { href: "#/people", text: "People" },
  closed: "account closed",
  did: "What they did in the book, the newest first",
  nothing: "Nothing of theirs stands in the book yet.",
  records: "What they changed in records",
  noRecords: "They changed no record yet.",
  changed: "What was changed about them",
  record: (/** @type {string} */ kind) => `See the record: ${kind}`,
  account: "What happened to their account, and what they did to others’",
};

/** Where a record of a kind is read. @type {Record<string, (id: string) => string>} */
const PLACES = {
  station: () => "#/station",
  stallion: (id) => `#/stallions/${id}`,
  mare: (id) => `#/mares/${id}`,
  tank: (id) => `#/bank/tank/${id}`,
  goblet: (id) => `#/bank/goblet/${id}`,
  person: (id) => `#/people/${id}`,
};

/** @param {any} change */
function recordRow(change) {
  const href = PLACES[change.kind]?.(change.record_id);
  return changeRow(
    change,
    href
      ? el("a", { class: "line-link", href }, text.record(change.kind))
      : el("strong", {}, change.kind),
  );
}

/** @param {string} id */
function recordsChanged(id) {
  return growingList({
    label: text.records,
    none: empty(text.noRecords),
    row: recordRow,
    load: (after) => get(`/people/${id}/record-changes${search({ limit: 25, after })}`),
  });
}

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
    later(text.records, () => recordsChanged(one.id)),
    changesPart(`/people/${one.id}`, text.changed),
    mayReadAccounts() && later(text.account, () => accountEvents(one.id)),
  );
}
