/** One mare: her record, and the doses that were taken for her. */

import { call, get, search } from "../net/api.js";
import { iMay, moment } from "../net/session.js";
import { changedFields } from "../logic/changes.js";
import { showDay } from "../logic/times.js";
import { withdrawalInWords } from "../logic/words.js";
import { changesPart } from "../parts/changes.js";
import { conflictBox } from "../parts/conflict.js";
import { el } from "../parts/dom.js";
import { textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { disclosure, empty, factList, growingList, page, rowLink, section } from "../parts/page.js";

const text = {
  back: { href: "#/mares", text: "Mares" },
  name: "Name",
  ueln: "UELN",
  owner: "Owner",
  change: "Change her record",
  save: "Save",
  saved: "Saved.",
  doses: "Doses taken for her",
  none: "No dose has been taken for her yet.",
  outcome: (/** @type {any} */ one) =>
    `${one.pregnant ? "pregnant" : "not pregnant"}, checked ${showDay(one.checked_on)}`,
};

const NAMES = ["name", "ueln", "owner"];

/** @param {any} values */
function whole(values) {
  return Object.fromEntries(NAMES.map((name) => [name, values[name] ?? null]));
}

/** @param {string} path @param {import("../net/api.js").Answer} first */
function changeForm(path, first) {
  let base = first.data;
  let etag = first.etag;
  const fields = [
    textField({ name: "name", label: text.name, required: true, value: base.name }),
    textField({ name: "ueln", label: text.ueln, value: base.ueln }),
    textField({ name: "owner", label: text.owner, value: base.owner }),
  ];
  const built = form({
    key: `mare:${base.id}`,
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit: text.save,
    send: async (values) => {
      await call("PATCH", path, { body: changedFields(base, whole(values)), etag });
      toast(text.saved);
      refresh();
    },
    refused: (problem) => {
      if (problem.status !== 412) return false;
      conflictBox({
        place: built.said,
        path,
        base,
        fields,
        mine: whole,
        take: (fresh, tag) => {
          base = fresh;
          etag = tag;
        },
      });
      return true;
    },
  });
  return built.node;
}

/** @param {any} one */
function doseRow(one) {
  const outcome = one.insemination?.outcome;
  return rowLink({
    href: `#/withdrawals/${one.id}`,
    title: one.stallion_name,
    detail: [moment(one.occurred_at), outcome && el("span", {}, ` · ${text.outcome(outcome)}`)],
    end: withdrawalInWords(one.state),
  });
}

/** @param {import("../parts/page.js").Context} context */
export default async function marePage({ params }) {
  const path = `/mares/${params.id}`;
  const first = await call("GET", path);
  const mare = first.data;
  const doses = await growingList({
    label: text.doses,
    none: empty(text.none),
    row: doseRow,
    load: (after) => get(`/withdrawals${search({ mare_id: mare.id, limit: 20, after })}`),
  });
  return page(
    { title: mare.name, back: text.back },
    factList([
      [text.ueln, mare.ueln],
      [text.owner, mare.owner],
    ]),
    section(text.doses, doses),
    iMay("book") && disclosure(text.change, changeForm(path, first)),
    changesPart(path),
  );
}
