/** The mares that doses were taken for, and adding one ahead of time. */

import { sendAct } from "../net/acts.js";
import { get, search } from "../net/api.js";
import { iMay } from "../net/session.js";
import { el, show } from "../parts/dom.js";
import { textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { disclosure, empty, growingList, page, rowLink } from "../parts/page.js";
import { debounce } from "../parts/pickers.js";

const text = {
  title: "Mares",
  lead: "A mare is also added while a dose is taken for her.",
  search: "Show only names with",
  none: "No mare fits. The first one is added when a dose is taken for her.",
  add: "Add a mare",
  save: "Add her",
  name: "Name",
  ueln: "UELN",
  owner: "Owner",
  added: (/** @type {string} */ name) => `${name} is added.`,
};

function addForm() {
  const fields = [
    textField({ name: "name", label: text.name, required: true }),
    textField({ name: "ueln", label: text.ueln, props: { autocapitalize: "characters" } }),
    textField({ name: "owner", label: text.owner }),
  ];
  return form({
    key: "mare:new",
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit: text.save,
    send: async (values) => {
      await sendAct("mare:new", "/mares", values);
      toast(text.added(values.name));
      refresh();
    },
  }).node;
}

/** @param {any} mare */
function row(mare) {
  return rowLink({
    href: `#/mares/${mare.id}`,
    title: mare.name,
    detail: [mare.ueln, mare.owner].filter(Boolean).join(" · "),
  });
}

/** @param {string} typed */
function list(typed) {
  return growingList({
    label: text.title,
    none: empty(text.none),
    row,
    load: (after) => get(`/mares${search({ q: typed, limit: 50, after })}`),
  });
}

export default async function mares() {
  const input = el("input", { type: "search", id: "mare-filter", autocomplete: "off" });
  const place = el("div", {}, await list(""));
  input.addEventListener(
    "input",
    debounce(async () => show(place, await list(input.value.trim())), 300),
  );
  return page(
    { title: text.title, lead: text.lead },
    iMay("book") && disclosure(text.add, addForm()),
    el("div", { class: "field" }, el("label", { for: input.id }, text.search), input),
    place,
  );
}
