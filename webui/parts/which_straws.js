/** Which labels of a row are printed: all, some in the middle, or the rest after a jam. */

import { groupedCode } from "../logic/codes.js";
import { labelNumber } from "../logic/label_numbers.js";
import { plural } from "../logic/numbers.js";
import { el } from "./dom.js";
import { choiceField, textField } from "./fields.js";
import { takesScans } from "./wedge.js";

const text = {
  which: "Which labels",
  all: (/** @type {number} */ count) => `All ${plural(count, "label")}`,
  part: "From one to another",
  jam: "The rest after a jam",
  jamHint: "The printer stopped, or ran out of labels.",
  from: "First label",
  to: "Last label",
  good: "Last good label",
  hint: "Scan it, or type its code or its number in the list.",
  goodHint: "The last one that came out well. Scan it, or type its code or its number in the list.",
  is: (/** @type {number} */ number, /** @type {number} */ all, /** @type {string} */ code) =>
    `No. ${number} of ${all}: ${groupedCode(code)}`,
  order: "The last label stands before the first.",
  allGood: "That is the last one; no label is left to print.",
};

/** @typedef {{from: number, to: number, jam: boolean}} Range  numbers from 1 on */

/** A label's number, with its code told below. @param {{name: string, label: string, hint: string, codes: string[]}} spec */
function numberOrCode({ codes, ...spec }) {
  const field = textField({ ...spec, required: true, props: { autocapitalize: "characters" } });
  const echo = el("p", { class: "echo" });
  field.node.append(echo);
  const find = () => labelNumber(field.raw(), codes);
  const input = /** @type {HTMLInputElement} */ (field.node.querySelector("input"));
  takesScans(input, ({ code, arrived }) => {
    field.setRaw(code ?? arrived);
    input.dispatchEvent(new Event("input", { bubbles: true }));
    const found = find();
    field.complain(found.ok ? null : found.message);
  });
  field.node.addEventListener("input", () => {
    const found = find();
    echo.textContent = found.ok ? text.is(found.number, codes.length, codes[found.number - 1]) : "";
    if (found.ok) field.complain(null);
  });
  return { field, find };
}

/** @typedef {ReturnType<typeof numberOrCode>} NumberField */

/** @typedef {{field: import("./fields.js").Field, message: string}} Complaint */

/** @param {NumberField[]} asked @returns {{numbers: number[], wrong: Complaint[]}} */
function numbersOf(asked) {
  const [numbers, wrong] = [/** @type {number[]} */ ([]), /** @type {Complaint[]} */ ([])];
  for (const { field, find } of asked) {
    const found = find();
    if (found.ok) numbers.push(found.number);
    else wrong.push({ field, message: found.message });
  }
  return { numbers, wrong };
}

/** @param {string[]} codes in the order of their labels */
export function whichStraws(codes) {
  const choice = choiceField({
    name: "which",
    label: text.which,
    required: true,
    value: "all",
    options: [
      { value: "all", text: text.all(codes.length) },
      { value: "part", text: text.part },
      { value: "jam", text: text.jam, hint: text.jamHint },
    ],
  });
  const ask = (/** @type {string} */ name, /** @type {string} */ label, hint = text.hint) =>
    numberOrCode({ name, label, hint, codes });
  const [from, to] = [ask("from", text.from), ask("to", text.to)];
  const good = ask("good", text.good, text.goodHint);
  const part = el("div", { class: "pair" }, from.field.node, to.field.node);
  const draw = () => {
    part.hidden = choice.raw() !== "part";
    good.field.node.hidden = choice.raw() !== "jam";
  };
  choice.node.addEventListener("change", draw);
  draw();
  /** @returns {{range: Range|null, wrong: Complaint[]}} */
  const find = () => {
    const last = codes.length;
    if (choice.raw() === "all") return { range: { from: 1, to: last, jam: false }, wrong: [] };
    const jam = choice.raw() === "jam";
    const { numbers, wrong } = numbersOf(jam ? [good] : [from, to]);
    if (wrong.length) return { range: null, wrong };
    const range = jam
      ? { from: numbers[0] + 1, to: last, jam }
      : { from: numbers[0], to: numbers[1], jam };
    if (range.from <= range.to) return { range, wrong: [] };
    const off = { field: jam ? good.field : to.field, message: jam ? text.allGood : text.order };
    return { range: null, wrong: [off] };
  };
  /** @type {import("./fields.js").Field} */
  const field = {
    ...choice,
    name: "straws",
    node: el("div", { class: "form-part" }, choice.node, part, good.field.node),
    read() {
      const { range, wrong } = find();
      for (const one of [from, to, good]) one.field.complain(null);
      for (const { field: at, message } of wrong) at.complain(message);
      return range ? { ok: true, value: range } : { ok: false, message: null };
    },
    focus() {
      const marked = field.node.querySelector("[aria-invalid]");
      if (marked instanceof HTMLElement) marked.focus();
      else choice.focus();
    },
  };
  return { field, chosen: () => find().range };
}
