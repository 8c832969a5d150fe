/** Whose straws are whose, and doses that are promised: what several screens show of it. */

import { sendAct } from "../net/acts.js";
import { get, search } from "../net/api.js";
import { iMay } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { showDay } from "../logic/times.js";
import { el } from "./dom.js";
import { textField } from "./fields.js";
import { form } from "./form.js";
import { refresh } from "./go.js";
import { toast } from "./live.js";
import { disclosure, empty, linkButton, plainRow, section, straws } from "./page.js";

const text = {
  owned: "Belong to others",
  ownedHint: "They are planned and taken for their owner only, and make no doses for others.",
  doses: (/** @type {any} */ one) => `${plural(one.doses, "dose")} may be used`,
  promised: "Promised doses",
  none: "Nothing of his is promised.",
  promise: "Promise doses",
  to: (/** @type {any} */ one) => `${one.doses_left} of ${plural(one.doses, "dose")} for ${one.to}`,
  until: (/** @type {any} */ one) => (one.until ? `until ${showDay(one.until)}` : "without an end"),
  by: (/** @type {any} */ one) => `, promised by ${one.by}${one.note ? `: ${one.note}` : ""}`,
  end: "End this promise",
  reason: "Why the doses are anybody’s again",
  ended: "Ended. The doses are anybody’s again.",
  belong: (/** @type {any} */ one) => `${straws(one.straws)} of ${one.owner}`,
};

/** Straws of a batch in a goblet that belong to nobody in particular. @param {any} item */
export function commonStraws(item) {
  return item.owners.reduce(
    (/** @type {number} */ left, /** @type {any} */ one) => left - one.straws,
    item.straws,
  );
}

/** "3 straws of Marrow Farm", or nothing. @param {any} item */
export function ownersLine(item) {
  return item.owners.length ? item.owners.map(text.belong).join(", ") : null;
}

/** What belongs to others of one stallion; nothing where nothing does. @param {string} stallionId */
export async function ownedPart(stallionId) {
  const { items } = await get("/owners");
  const his = items.filter((/** @type {any} */ one) => one.stallion_id === stallionId);
  if (!his.length) return null;
  return section(
    text.owned,
    el(
      "ul",
      { class: "rows" },
      his.map((/** @type {any} */ one) =>
        el(
          "li",
          {},
          plainRow({ title: one.owner, detail: text.doses(one), end: straws(one.straws) }),
        ),
      ),
    ),
    el("p", { class: "hint" }, text.ownedHint),
  );
}

/** @param {any} one */
function endForm(one) {
  const reason = textField({ name: "reason", label: text.reason, required: true });
  const key = `promise-end:${one.id}`;
  return form({
    key,
    kind: "danger",
    fields: () => [reason],
    body: [reason.node],
    submit: text.end,
    send: async (values) => {
      await sendAct(key, `/promises/${one.id}/end`, values);
      toast(text.ended);
      refresh();
    },
  }).node;
}

/** @param {any} one */
function promiseCard(one) {
  return el(
    "div",
    { class: "card" },
    el("strong", {}, text.to(one)),
    el("p", { class: "hint" }, text.until(one), text.by(one)),
    iMay("rules") && disclosure(text.end, endForm(one)),
  );
}

/** Doses of one stallion that are promised. @param {string} stallionId */
export async function promisesPart(stallionId) {
  const { items } = await get(`/promises${search({ stallion_id: stallionId })}`);
  return section(
    text.promised,
    items.length ? items.map(promiseCard) : empty(text.none),
    iMay("rules") &&
      el(
        "p",
        { class: "ways" },
        linkButton({ href: `#/stallions/${stallionId}/promise`, text: text.promise }),
      ),
  );
}
