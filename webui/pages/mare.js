/** One mare: her record, and the doses that were taken for her. */

import { call, get, search } from "../net/api.js";
import { iMay, moment } from "../net/session.js";
import { showDay } from "../logic/times.js";
import { withdrawalInWords } from "../logic/words.js";
import { changesPart } from "../parts/changes.js";
import { readVersion } from "../parts/conflict.js";
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
  const base = first.data;
  const fields = [
    textField({ name: "name", label: text.name, required: true, value: base.name }),
    textField({ name: "ueln", label: text.ueln, value: base.ueln }),
    textField({ name: "owner", label: text.owner, value: base.owner }),
  ];
  const record = readVersion({ path, first, fields, mine: whole });
  const built = form({
    key: `mare:${base.id}`,
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit: text.save,
    send: async (values) => {
      await record.send(values);
      toast(text.saved);
      refresh();
    },
    refused: (problem) => record.refused(problem, built.said),
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
