/** Choosing a stallion or a mare. */

import { all, get, search } from "../net/api.js";
import { el, freshId, show } from "./dom.js";
import { messages, selectField, textField } from "./fields.js";
import { readFields } from "./form.js";

const text = {
  stallion: "Stallion",
  chooseStallion: "Choose the stallion",
  mare: "Mare",
  mareSearch: "Her name, or a part of it",
  mareMissing: "Type the mare’s name, then choose her or “New mare”.",
  newMare: (/** @type {string} */ name) => `New mare “${name}”`,
  newMareHint: "Not in the book yet: she is added when the dose is booked.",
  ueln: "UELN",
  uelnHint: "15 characters, from her passport",
  owner: "Owner",
};

/** @param {{name?: string, value?: string, none?: string}} [options] */
export async function stallionField({
  name = "stallion_id",
  value,
  none = text.chooseStallion,
} = {}) {
  const stallions = await all("/stallions");
  const field = selectField({
    name,
    label: text.stallion,
    required: true,
    none,
    missing: `${text.chooseStallion}.`,
    value,
    options: stallions.map((one) => ({ value: one.id, text: one.name })),
  });
  return { field, stallions };
}

/** What is asked of a mare who is not in the book yet. */
function newMareFields() {
  const ueln = textField({
    name: "ueln",
    label: text.ueln,
    hint: text.uelnHint,
    props: { autocapitalize: "characters" },
  });
  const owner = textField({ name: "owner", label: text.owner });
  const node = el("div", { class: "form-part", hidden: true }, ueln.node, owner.node);
  return { node, list: [ueln, owner] };
}

function mareView() {
  const input = el("input", {
    type: "text",
    id: freshId("mare-search"),
    autocomplete: "off",
    spellcheck: "false",
  });
  const results = el("div", { class: "choices-list", "aria-live": "polite" });
  const fresh = newMareFields();
  const legend = el("legend", {}, text.mare);
  const label = el("label", { for: input.id, class: "hint" }, text.mareSearch);
  const node = el("fieldset", { class: "field" }, legend, label, input, results, fresh.node);
  const said = messages(input);
  input.setAttribute("aria-describedby", said.ids.join(" "));
  node.append(...said.nodes);
  return { node, input, results, fresh, said };
}

/** @typedef {{chosen: string, offered: {id: string|null, name: string, hint: string}[]}} MareState */

/** @param {ReturnType<typeof mareView>} view @param {MareState} state */
function readMare(view, { chosen, offered }) {
  const typed = view.input.value.trim();
  if (chosen !== "new") {
    return { mare_id: chosen, name: offered.find((one) => one.id === chosen)?.name };
  }
  const { values } = readFields(view.fresh.list);
  return { name: typed, mare: { name: typed, ...values } };
}

/**
 * A mare of the book or a new one. Reads as {mare_id} or {mare: {...}}.
 * @returns {import("./fields.js").Field}
 */
export function mareField() {
  const group = freshId("mare");
  const view = mareView();
  /** @type {MareState} */
  const state = { chosen: "", offered: [] };
  const choose = (/** @type {string} */ value) => {
    state.chosen = value;
    view.fresh.node.hidden = value !== "new";
  };
  const offer = (/** @type {MareState["offered"]} */ offered) => {
    state.offered = offered;
    if (!offered.some((one) => (one.id ?? "new") === state.chosen)) choose("");
    show(
      view.results,
      offered.map((one) => mareRow(group, one, state.chosen, choose)),
    );
  };
  const look = async () => {
    const typed = view.input.value.trim();
    const found = await findMares(typed);
    if (typed === view.input.value.trim()) offer(found);
  };
  view.input.addEventListener("input", debounce(look, 250));
  return {
    name: "mare",
    node: view.node,
    complain: view.said.complain,
    warn: view.said.warn,
    focus: () => view.input.focus(),
    raw: () =>
      JSON.stringify({
        ...state,
        name: view.input.value,
        fresh: view.fresh.list.map((one) => one.raw()),
      }),
    setRaw(kept) {
      const was = JSON.parse(kept);
      view.input.value = was.name;
      view.fresh.list.forEach((one, i) => one.setRaw(was.fresh[i]));
      choose(was.chosen);
      offer(was.offered);
    },
    read: () =>
      state.chosen
        ? { ok: true, value: readMare(view, state) }
        : { ok: false, message: text.mareMissing },
  };
}

/** @param {string} group @param {{id: string|null, name: string, hint: string}} one @param {string} chosen @param {(value: string) => void} choose */
function mareRow(group, one, chosen, choose) {
  const value = one.id ?? "new";
  const input = el("input", {
    type: "radio",
    name: group,
    value,
    id: freshId("radio"),
    checked: value === chosen,
  });
  input.addEventListener("change", () => choose(value));
  return el(
    "label",
    { class: "choice", for: input.id },
    input,
    el("span", {}, one.name, one.hint && el("span", { class: "hint" }, one.hint)),
  );
}

/** Mares that fit, and a new one of that name; a new one alone when nobody answers. @param {string} typed */
async function findMares(typed) {
  if (!typed) return [];
  const fresh = { id: null, name: text.newMare(typed), hint: text.newMareHint };
  const found = await get(`/mares${search({ q: typed, limit: 8 })}`).catch(() => ({ items: [] }));
  return [...found.items.map(mareOffer), fresh];
}

/** @param {any} mare */
function mareOffer(mare) {
  return {
    id: mare.id,
    name: mare.name,
    hint: [mare.ueln, mare.owner].filter(Boolean).join(" · "),
  };
}

/** Wait until typing pauses. @param {() => void} work @param {number} ms */
export function debounce(work, ms) {
  let timer = 0;
  return () => {
    window.clearTimeout(timer);
    timer = window.setTimeout(work, ms);
  };
}
