/** What stands on the labels of this station, and how they are printed unless somebody chooses. */

import { call } from "../net/api.js";
import { iMay, loadStation } from "../net/session.js";
import { showNumber } from "../logic/numbers.js";
import { MARK_NAMES, markInWords } from "../logic/straw_marks.js";
import { readVersion } from "../parts/conflict.js";
import { el, freshId } from "../parts/dom.js";
import { choiceField, messages, numberField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { factList, page } from "../parts/page.js";

const text = {
  title: "Label settings",
  lead: "What has to stand on every straw here, and how labels are printed unless somebody chooses otherwise.",
  back: { href: "#/station", text: "The station" },
  labels: {
    required_marks: "Every straw has to say",
    species_mark: "The species, as it is written on straws",
    label_style: "Label of a straw",
    printer_dpi: "Printer",
    straw_diameter_mm: "Outside diameter of the straws",
    strip_length_mm: "Length of the strip",
    strip_form: "Form of the strip",
    strip_symbol: "Symbol on the strip",
  },
  hints: {
    required_marks:
      "What is missing is named when a freeze is logged, and printing without it asks for a reason. Stallion, batch and code stand on every label anyway.",
    straw_diameter_mm: "Measure it: straws sold as 0.5 mL differ by some tenths.",
    strip_length_mm: "The part of the straw that is free of plug and seal.",
  },
  source:
    "Day of collection, species, identity of the donor and approval number are what Delegated Regulation (EU) 2020/686, Article 10, asks for. The local authority’s own form comes first.",
  styles: [
    { value: "strip", text: "Strip", hint: "Along the body of the straw." },
    { value: "flag", text: "Flag", hint: "A tab folded round its free end, with a larger symbol." },
  ],
  printers: [
    { value: "203", text: "203 dots an inch", hint: "8 dots a millimetre, the usual label printer" },
    { value: "300", text: "300 dots an inch" },
    { value: "600", text: "600 dots an inch" },
  ],
  forms: [
    {
      value: "band",
      text: "Band",
      hint: "A narrow strip on the side of the straw that is seen, stuck on or printed on it.",
    },
    {
      value: "wrap",
      text: "Wrap",
      hint: "A label all round the straw that closes over itself, words in three rows.",
    },
  ],
  symbols: [
    { value: "yes", text: "With a symbol", hint: "A scanner reads it; the words are smaller." },
    { value: "no", text: "Words alone", hint: "The code is there to be typed." },
  ],
  none: "nothing more",
  mm: (/** @type {any} */ value) => `${showNumber(value)} mm`,
  save: "Save",
  saved: "Saved.",
};

/** @typedef {keyof typeof text.labels} Name */

/** Label, hint and value of a field. @param {Name} name @param {any} was */
function plain(name, was) {
  const hints = /** @type {Record<string, string>} */ (text.hints);
  return {
    name,
    label: text.labels[name],
    hint: hints[name],
    value: String(was[name]),
    required: true,
  };
}

/** What a straw has to say, as boxes to tick; marks unknown here are kept. @param {any} was @returns {import("../parts/fields.js").Field} */
function marksField(was) {
  const names = [...new Set([...MARK_NAMES, ...was.required_marks])];
  const boxes = names.map((name) =>
    el("input", {
      type: "checkbox",
      id: freshId("mark"),
      value: name,
      checked: was.required_marks.includes(name),
    }),
  );
  const node = el(
    "fieldset",
    { class: "field choices" },
    el("legend", {}, text.labels.required_marks),
    el("p", { class: "hint" }, text.hints.required_marks),
    boxes.map((box) =>
      el("label", { class: "choice", for: box.id }, box, el("span", {}, markInWords(box.value))),
    ),
  );
  const said = messages(node);
  node.append(...said.nodes);
  const chosen = () => boxes.filter((box) => box.checked).map((box) => box.value);
  return {
    name: "required_marks",
    node,
    complain: said.complain,
    warn: said.warn,
    raw: () => chosen().join(" ") || "-",
    setRaw: (kept) => {
      for (const box of boxes) box.checked = kept.split(" ").includes(box.value);
    },
    focus: () => boxes[0].focus(),
    read: () => ({ ok: true, value: chosen() }),
  };
}

/** @param {any} was */
function fieldsFor(was) {
  const choice = (
    /** @type {Name} */ name,
    /** @type {{value: string, text: string, hint?: string}[]} */ options,
  ) => choiceField({ ...plain(name, was), options });
  const symbol = choiceField({
    ...plain("strip_symbol", was),
    value: was.strip_symbol ? "yes" : "no",
    options: text.symbols,
  });
  return [
    marksField(was),
    textField(plain("species_mark", was)),
    choice("label_style", text.styles),
    choice("printer_dpi", text.printers),
    numberField({ ...plain("straw_diameter_mm", was), unit: "mm", moreThan: 0 }),
    choice("strip_form", text.forms),
    numberField({ ...plain("strip_length_mm", was), unit: "mm", moreThan: 0 }),
    {
      ...symbol,
      setRaw: (/** @type {string} */ raw) =>
        symbol.setRaw({ true: "yes", false: "no" }[raw] ?? raw),
    },
  ];
}

/** The form's values as the record has them. @param {any} values */
function recordOf(values) {
  return {
    ...values,
    printer_dpi: Number(values.printer_dpi),
    strip_symbol: values.strip_symbol === "yes",
  };
}

/** @param {{value: string, text: string}[]} options @param {any} value */
function named(options, value) {
  return options.find((one) => one.value === String(value))?.text;
}

/** The settings as everybody else reads them. @param {any} was */
function facts(was) {
  const l = text.labels;
  return factList([
    [
      l.required_marks,
      was.required_marks.length
        ? el(
            "ul",
            {},
            was.required_marks.map((/** @type {string} */ one) => el("li", {}, markInWords(one))),
          )
        : text.none,
    ],
    [l.species_mark, was.species_mark],
    [l.label_style, named(text.styles, was.label_style)],
    [l.printer_dpi, named(text.printers, was.printer_dpi)],
    [l.straw_diameter_mm, text.mm(was.straw_diameter_mm)],
    [l.strip_form, named(text.forms, was.strip_form)],
    [l.strip_length_mm, text.mm(was.strip_length_mm)],
    [l.strip_symbol, named(text.symbols, was.strip_symbol ? "yes" : "no")],
  ]);
}

export default async function labelSettings() {
  const first = await call("GET", "/station");
  const frame = { title: text.title, lead: text.lead, back: text.back };
  const source = el("p", { class: "hint" }, text.source);
  if (!iMay("manage")) return page(frame, facts(first.data), source);
  const fields = fieldsFor(first.data);
  const record = readVersion({ path: "/station", first, fields, mine: recordOf });
  const built = form({
    key: "label-settings",
    fields: () => fields,
    body: el("div", { class: "form-part" }, fields[0].node, source, fields.slice(1).map(nodeOf)),
    submit: text.save,
    send: async (values) => {
      await record.send(values);
      await loadStation();
      toast(text.saved);
      refresh();
    },
    refused: (problem) => record.refused(problem, built.said),
  });
  return page(frame, built.node);
}

/** @param {import("../parts/fields.js").Field} field */
function nodeOf(field) {
  return field.node;
}
