/** What only a person can say of a spreadsheet: its questions, and which column is what. */

import { iMay } from "../net/session.js";
import { el } from "./dom.js";
import { choiceField, numberField, selectField } from "./fields.js";
import { disclosure } from "./page.js";

const text = {
  answer: { decimal: "The decimal sign", "date-order": "Which comes first" },
  columns: "Which column is what",
  left: "leave it out",
  examples: (/** @type {string[]} */ some) => (some.length ? `Such as: ${some.join(" · ")}` : "Empty"),
  make: "Stallions that are not in the book",
  makeLead:
    "They can be entered with the file. Each gets the same dose rule, which a vet changes later at his record.",
  makeDose: "Straws that make a dose of theirs",
  makeDo: "Enter them with the file",
  notMake: "Do not enter them",
  makeAsk: "A vet or a manager can enter them with the file.",
};

/** @typedef {Record<string, any>} Answers */

/**
 * @param {any} looked @param {Answers} answers @param {(more: Answers) => void} said
 */
export function questionBoxes(looked, answers, said) {
  return looked.questions.map((/** @type {any} */ question) => {
    const name = question.code === "decimal" ? "decimal" : "date_order";
    if (question.code.startsWith("column")) {
      return el("p", { class: "notice notice-warn" }, question.message);
    }
    const field = choiceField({
      name,
      label: question.message,
      required: true,
      options: question.choices.map((/** @type {any} */ one) => ({
        value: one.value,
        text: one.title,
      })),
    });
    field.node.addEventListener("change", () => said({ [name]: field.raw() }));
    return el("div", { class: "notice notice-warn" }, field.node);
  });
}

/**
 * @param {any} looked @param {Answers} answers @param {(more: Answers) => void} said
 */
export function columnsBox(looked, answers, said) {
  const options = looked.fields.map((/** @type {any} */ one) => ({
    value: one.field,
    text: one.title,
  }));
  const rows = looked.columns.map((/** @type {any} */ column, /** @type {number} */ at) => {
    const field = selectField({
      name: `column-${at}`,
      label: column.column,
      required: true,
      hint: text.examples(column.examples),
      options,
      none: text.left,
      value: column.field ?? "",
    });
    field.node.addEventListener("change", () =>
      said({ mapping: { ...answers.mapping, [column.column]: field.raw() || null } }),
    );
    return field.node;
  });
  const box = disclosure(text.columns, el("div", { class: "columns-of-file" }, rows));
  const asked = looked.questions.some((/** @type {any} */ one) => one.code.startsWith("column"));
  box.open = asked || answers.mapping !== undefined;
  return box;
}

/**
 * @param {any} looked @param {Answers} answers @param {(more: Answers) => void} said
 */
export function stallionsBox(looked, answers, said) {
  const missing = looked.rows.some(
    (/** @type {any} */ row) => !row.booked && row.message.startsWith("There is no stallion"),
  );
  if (!missing && !answers.make_stallions) return null;
  if (!iMay("rules")) return el("p", { class: "notice" }, text.makeAsk);
  const dose = numberField({
    name: "straws",
    label: text.makeDose,
    required: true,
    whole: true,
    least: 1,
    most: 100,
    value: answers.make_stallions ? String(answers.make_stallions.straws) : "",
  });
  const button = el("button", { type: "button", class: "button" }, text.makeDo);
  button.addEventListener("click", () => {
    const read = dose.read();
    dose.complain(read.ok ? null : read.message);
    if (read.ok) said({ make_stallions: { straws: read.value } });
  });
  const not = el("button", { type: "button", class: "button" }, text.notMake);
  not.addEventListener("click", () => said({ make_stallions: null }));
  return el(
    "fieldset",
    { class: "fieldset" },
    el("legend", {}, text.make),
    el("p", {}, text.makeLead),
    looked.totals.stallions_made.length > 0 && el("p", {}, looked.totals.stallions_made.join(", ")),
    dose.node,
    el("p", { class: "ways" }, button, answers.make_stallions && not),
  );
}
