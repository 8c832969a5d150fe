/** What happened to accounts, for those who may read it. */

import { get, search } from "../net/api.js";
import { iMay, moment, person } from "../net/session.js";
import { el } from "./dom.js";
import { empty, growingList } from "./page.js";

const text = {
  label: "What happened to accounts",
  none: "Nothing yet.",
  by: (/** @type {string} */ name) => `by ${name}`,
  about: (/** @type {string} */ name) => `about ${name}`,
};

export function mayReadAccounts() {
  return iMay("manage") || person()?.role === "auditor";
}

/** @param {any} event */
function eventRow(event) {
  const who = [event.by && text.by(event.by), event.about && text.about(event.about)];
  return el(
    "div",
    { class: "entry" },
    el("p", {}, el("strong", {}, event.kind.replaceAll(/[-_]/g, " "))),
    el(
      "p",
      { class: "row-detail" },
      [moment(event.at), ...who, event.address].filter(Boolean).join(" · "),
    ),
  );
}

/** Newest first; of one person, or of all. @param {string} [personId] */
export function accountEvents(personId) {
  return growingList({
    label: text.label,
    none: empty(text.none),
    row: eventRow,
    load: (after) =>
      get(`/security-events${search({ limit: 25, person: personId, after })}`),
  });
}
