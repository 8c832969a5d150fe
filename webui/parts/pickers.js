/** Choosing a stallion or a mare. */

import { all, get, search } from "../net/api.js";
import { el, freshId, show } from "./dom.js";
import { messages, selectField, textField } from "./fields.js";

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

/**
 * A mare of the book or a new one. Reads as {mare_id} or {mare: {...}}.
 * @returns {import("./fields.js").Field}
 */
export function mareField() {
  const group = freshId("mare");
  const searchInput = el("input", {
    type: "text",
    id: freshId("mare-search"),
    autocomplete: "off",
    spellcheck: "false",
  });
  const results = el("div", { class: "choices-list", "aria-live": "polite" });
  const ueln = textField({
    name: "mare.ueln",
    label: text.ueln,
    hint: text.uelnHint,
    props: { autocapitalize: "characters" },
  });
  const owner = textField({ name: "mare.owner", label: text.owner });
  const extra = el("div", { class: "form-part", hidden: true }, ueln.node, owner.node);
  const node = el(
    "fieldset",
    { class: "field" },
    el("legend", {}, text.mare),
    el("label", { for: searchInput.id, class: "hint" }, text.mareSearch),
    searchInput,
    results,
    extra,
  );
  const said = messages(searchInput);
  searchInput.setAttribute("aria-describedby", said.ids.join(" "));
  node.append(...said.nodes);
  /** @type {{id: string|null, name: string, hint: string}[]} */
  let offered = [];
  let chosen = "";
  const choose = (/** @type {string} */ value) => {
    chosen = value;
    extra.hidden = value !== "new";
  };
  const draw = () =>
    show(
      results,
      offered.map((one) => mareRow(group, one, chosen, choose)),
    );
  const look = async () => {
    const typed = searchInput.value.trim();
    const found = await findMares(typed);
    if (typed !== searchInput.value.trim()) return;
    offered = found;
    if (!found.some((one) => (one.id ?? "new") === chosen)) choose("");
    draw();
  };
  searchInput.addEventListener("input", debounce(look, 250));
  return {
    name: "mare",
    node,
    complain: said.complain,
    warn: said.warn,
    focus: () => searchInput.focus(),
    raw: () =>
      JSON.stringify({
        chosen,
        offered,
        name: searchInput.value,
        ueln: ueln.raw(),
        owner: owner.raw(),
      }),
    setRaw(kept) {
      const was = JSON.parse(kept);
      searchInput.value = was.name;
      ueln.setRaw(was.ueln);
      owner.setRaw(was.owner);
      offered = was.offered;
      choose(was.chosen);
      draw();
    },
    read() {
      if (!chosen) return { ok: false, message: text.mareMissing };
      if (chosen !== "new")
        return {
          ok: true,
          value: { mare_id: chosen, name: offered.find((one) => one.id === chosen)?.name },
        };
      const [u, o] = [ueln.read(), owner.read()];
      return {
        ok: true,
        value: {
          name: searchInput.value.trim(),
          mare: {
            name: searchInput.value.trim(),
            ...(u.ok && u.value ? { ueln: u.value } : {}),
            ...(o.ok && o.value ? { owner: o.value } : {}),
          },
        },
      };
    },
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
