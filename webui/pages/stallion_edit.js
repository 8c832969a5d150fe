/** Adding a stallion, or changing his record and rule without overwriting somebody else's change. */

import { sendAct } from "../net/acts.js";
import { call } from "../net/api.js";
import { COLOUR_NAMES } from "../logic/marks.js";
import { el } from "../parts/dom.js";
import { readVersion } from "../parts/conflict.js";
import { dayField, numberField, suggestField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { page } from "../parts/page.js";
import { ruleField } from "../parts/rule_field.js";

const text = {
  add: "Add a stallion",
  change: (/** @type {string} */ name) => `Change ${name}`,
  back: { href: "#/stallions", text: "Stallions" },
  who: "Who he is",
  name: "Name",
  ueln: "UELN",
  uelnHint: "15 characters, from his passport",
  chip: "Microchip",
  chipHint: "15 digits",
  breed: "Breed",
  born: "Foaled",
  died: "Died",
  owner: "Owner",
  straws: "His straws",
  colour: "Straw colour",
  colourHint: "A second cue only. Marks and codes tell stallions apart.",
  limits: "Limits",
  low: "Say so when fewer doses are left than",
  reserve: "Last doses that only a manager releases",
  doses: "doses",
  saveNew: "Add him",
  save: "Save",
  saved: (/** @type {string} */ name) => `${name} is saved.`,
  warned: (/** @type {string} */ words) => `Saved. Please look at this: ${words}`,
};

/** The fields that this form can change, with nulls for what is empty. */
const EDITABLE = [
  "name",
  "ueln",
  "microchip",
  "breed",
  "foaled_on",
  "died_on",
  "owner",
  "straw_colour",
  "dose_rule",
  "low_stock_doses",
  "reserve_doses",
];

/** @param {any} was */
function fieldsFor(was) {
  return {
    name: textField({ name: "name", label: text.name, required: true, value: was.name }),
    ueln: textField({
      name: "ueln",
      label: text.ueln,
      hint: text.uelnHint,
      value: was.ueln,
      props: { autocapitalize: "characters", spellcheck: "false" },
    }),
    chip: textField({
      name: "microchip",
      label: text.chip,
      hint: text.chipHint,
      value: was.microchip,
      props: { inputmode: "numeric" },
    }),
    breed: textField({ name: "breed", label: text.breed, value: was.breed }),
    born: dayField({ name: "foaled_on", label: text.born, value: was.foaled_on }),
    died: dayField({ name: "died_on", label: text.died, value: was.died_on }),
    owner: textField({ name: "owner", label: text.owner, value: was.owner }),
    colour: suggestField({
      name: "straw_colour",
      label: text.colour,
      hint: text.colourHint,
      value: was.straw_colour,
      suggestions: COLOUR_NAMES,
    }),
    rule: ruleField(was.dose_rule),
    low: numberField({
      name: "low_stock_doses",
      label: text.low,
      unit: text.doses,
      whole: true,
      least: 0,
      value: was.low_stock_doses,
    }),
    reserve: numberField({
      name: "reserve_doses",
      label: text.reserve,
      unit: text.doses,
      whole: true,
      least: 0,
      value: was.reserve_doses,
    }),
  };
}

/** @param {ReturnType<typeof fieldsFor>} f */
function layout(f) {
  return [
    el(
      "fieldset",
      { class: "fieldset" },
      el("legend", {}, text.who),
      f.name.node,
      el(
        "div",
        { class: "pair pair-wide" },
        f.ueln.node,
        f.chip.node,
        f.breed.node,
        f.owner.node,
        f.born.node,
        f.died.node,
      ),
    ),
    el(
      "fieldset",
      { class: "fieldset" },
      el("legend", {}, text.straws),
      f.rule.node,
      f.colour.node,
    ),
    el(
      "fieldset",
      { class: "fieldset" },
      el("legend", {}, text.limits),
      el("div", { class: "pair pair-wide" }, f.low.node, f.reserve.node),
    ),
  ];
}

/** Whole record as typed: a field left empty is null. @param {any} values */
function whole(values) {
  return Object.fromEntries(
    EDITABLE.map((name) => [name, values[name] ?? (name === "reserve_doses" ? 0 : null)]),
  );
}

/** @param {any} stallion */
function done(stallion) {
  const warnings = (stallion.warnings ?? []).map(
    (/** @type {any} */ one) => one.detail ?? one.message ?? one,
  );
  if (warnings.length) toast(text.warned(warnings.join(" ")), "check");
  else toast(text.saved(stallion.name));
  go(`#/stallions/${stallion.id}`);
}

/** @param {any} values */
async function add(values) {
  done((await sendAct("stallion:new", "/stallions", values)).data);
}

/** @param {import("../parts/page.js").Context} context */
export default async function stallionEdit({ params }) {
  const first = params.id ? await call("GET", `/stallions/${params.id}`) : null;
  const was = first?.data ?? {};
  const fields = fieldsFor(was);
  const list = Object.values(fields);
  const record = readVersion({
    path: `/stallions/${params.id}`,
    first: { data: was, etag: first?.etag ?? null },
    fields: list,
    mine: whole,
  });
  const save = async (/** @type {any} */ values) => {
    const answer = await record.send(values);
    done(answer.data ?? { id: params.id, name: values.name });
  };
  const built = form({
    key: `stallion:${params.id ?? "new"}`,
    fields: () => list,
    body: layout(fields),
    submit: params.id ? text.save : text.saveNew,
    send: params.id ? save : add,
    refused: (problem) => record.refused(problem, built.said),
  });
  return page(
    {
      title: params.id ? text.change(was.name) : text.add,
      back: params.id ? { href: `#/stallions/${params.id}`, text: was.name } : text.back,
    },
    built.node,
  );
}
