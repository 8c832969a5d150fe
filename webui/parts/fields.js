/**
 * Form fields: a label that says the unit, a hint, and one place below for what is wrong (refused)
 * or odd (a warning, which stops nothing). All fields speak the same small interface.
 */

import { isWhole, readDecimal } from "../logic/numbers.js";
import { fromLocalField, showDay, showMoment, toLocalField } from "../logic/times.js";
import { zone } from "../net/session.js";
import { el, freshId, show } from "./dom.js";

/**
 * @typedef {object} Field
 * @property {string} name       as in the request, dots for nesting
 * @property {HTMLElement} node
 * @property {() => {ok: true, value: any} | {ok: false, message: import("./dom.js").Children}} read
 * @property {() => string} raw  what was typed, for drafts
 * @property {(text: string) => void} setRaw
 * @property {(message: import("./dom.js").Children|null) => void} complain
 * @property {(message: import("./dom.js").Children|null) => void} warn
 * @property {() => void} focus
 * @property {(value: any) => string} [inWords]  a value that is no plain text or number, for reading
 */

/**
 * @typedef {object} FieldSpec
 * @property {string} name
 * @property {string} label
 * @property {string} [hint]
 * @property {boolean} [required]
 * @property {string} [unit]
 * @property {string} [value]
 * @property {string} [missing] what to say when a required field is empty
 * @property {Record<string, any>} [props] more attributes of the input
 */

const text = {
  optional: "optional",
  needed: "Please fill this in.",
  number: "This is not a number. Digits, and a comma or a point for decimals.",
  whole: "This has to be a whole number.",
  twoWays: (/** @type {string} */ typed) =>
    `“${typed}” can be read in two ways. Which one is meant?`,
  tooSmall: (/** @type {number} */ least) => `This has to be at least ${least}.`,
  tooBig: (/** @type {number} */ most) => `This can be at most ${most}.`,
  badTime: "Please give a day and a time.",
};

/** The two lines below a control. @param {HTMLElement} control */
export function messages(control) {
  const error = el("p", { class: "field-error", id: freshId("error"), hidden: true });
  const warning = el("p", { class: "field-warning", id: freshId("warning"), hidden: true });
  const set = (/** @type {HTMLElement} */ line, /** @type {any} */ message) => {
    show(line, message ?? "");
    line.hidden = message === null || message === undefined;
  };
  return {
    nodes: [error, warning],
    ids: [error.id, warning.id],
    complain(/** @type {any} */ message) {
      set(error, message);
      if (message) control.setAttribute("aria-invalid", "true");
      else control.removeAttribute("aria-invalid");
    },
    warn(/** @type {any} */ message) {
      set(warning, message);
    },
  };
}

/**
 * Label, hint, control and messages put together.
 * @param {FieldSpec} spec @param {HTMLInputElement|HTMLSelectElement|HTMLTextAreaElement} control
 * @param {Node[]} [below]
 */
function frame(spec, control, below = []) {
  control.id = freshId("field");
  const hint = spec.hint ? el("p", { class: "hint", id: freshId("hint") }, spec.hint) : null;
  const said = messages(control);
  control.setAttribute("aria-describedby", [hint?.id, ...said.ids].filter(Boolean).join(" "));
  if (spec.required) control.setAttribute("aria-required", "true");
  const label = el(
    "label",
    { for: control.id },
    spec.label,
    spec.unit && el("span", { class: "unit" }, ` (${spec.unit})`),
    !spec.required && el("span", { class: "optional" }, ` ${text.optional}`),
  );
  const node = el("div", { class: "field" }, label, hint, control, below, said.nodes);
  return { node, ...said };
}

/** @param {FieldSpec} spec @param {HTMLInputElement|HTMLSelectElement|HTMLTextAreaElement} control @returns {Field} */
function plainField(spec, control) {
  const { node, complain, warn } = frame(spec, control);
  return {
    name: spec.name,
    node,
    complain,
    warn,
    raw: () => control.value,
    setRaw: (value) => {
      control.value = value;
    },
    focus: () => control.focus(),
    read() {
      const value = control.value.trim();
      if (!value && spec.required) return { ok: false, message: spec.missing ?? text.needed };
      return { ok: true, value: value || undefined };
    },
  };
}

/** @param {FieldSpec} spec */
export function textField(spec) {
  return plainField(
    spec,
    el("input", { type: "text", value: spec.value, autocomplete: "off", ...spec.props }),
  );
}

/** @param {FieldSpec & {autocomplete: string}} spec */
export function passwordField(spec) {
  const field = plainField(
    spec,
    el("input", { type: "password", autocomplete: spec.autocomplete }),
  );
  const input = /** @type {HTMLInputElement} */ (field.node.querySelector("input"));
  const read = () =>
    input.value || !spec.required
      ? { ok: /** @type {const} */ (true), value: input.value }
      : { ok: /** @type {const} */ (false), message: spec.missing ?? text.needed };
  return { ...field, read, raw: () => "", setRaw: () => {} };
}

/** @param {FieldSpec} spec */
export function areaField(spec) {
  return plainField(spec, el("textarea", { rows: 3, value: spec.value, ...spec.props }));
}

/** @param {FieldSpec & {suggestions: string[]}} spec */
export function suggestField(spec) {
  const list = el(
    "datalist",
    { id: freshId("list") },
    spec.suggestions.map((one) => el("option", { value: one })),
  );
  const field = textField({ ...spec, props: { ...spec.props, list: list.id } });
  field.node.append(list);
  return field;
}

/** @param {FieldSpec & {options: {value: string, text: string}[], none?: string}} spec */
export function selectField(spec) {
  const first = spec.none === undefined ? [] : [el("option", { value: "" }, spec.none)];
  const options = spec.options.map((one) => el("option", { value: one.value }, one.text));
  const control = el("select", {}, first, options);
  if (spec.value !== undefined) control.value = spec.value;
  return plainField(spec, control);
}

/** @param {FieldSpec} spec  a day; the echo below says it with the month in letters */
export function dayField(spec) {
  const input = el("input", { type: "date", value: spec.value, ...spec.props });
  return withEcho(plainField(spec, input), input, (value) => value && showDay(value));
}

/** @param {FieldSpec} spec  an instant on the station's clocks; `value` in UTC, or "now" */
export function momentField(spec) {
  const start = spec.value === "now" ? new Date() : spec.value ? new Date(spec.value) : null;
  const input = el("input", {
    type: "datetime-local",
    value: start ? toLocalField(start, zone()) : undefined,
    ...spec.props,
  });
  const utc = () => fromLocalField(input.value.slice(0, 16), zone());
  const field = withEcho(plainField(spec, input), input, () => {
    const iso = utc();
    return iso && showMoment(iso, zone());
  });
  return {
    ...field,
    /** @returns {ReturnType<Field["read"]>} */
    read() {
      if (!input.value)
        return spec.required
          ? { ok: false, message: text.badTime }
          : { ok: true, value: undefined };
      const iso = utc();
      return iso ? { ok: true, value: iso } : { ok: false, message: text.badTime };
    },
  };
}

/**
 * @param {Field} field @param {HTMLInputElement} input
 * @param {(value: string) => string|null|undefined|""} words
 */
function withEcho(field, input, words) {
  const echo = el("p", { class: "echo" });
  const update = () => {
    echo.textContent = words(input.value) || "";
  };
  input.after(echo);
  input.addEventListener("input", update);
  update();
  return {
    ...field,
    setRaw: (/** @type {string} */ value) => {
      input.value = value;
      update();
    },
  };
}

/**
 * @typedef {FieldSpec & {whole?: boolean, least?: number, most?: number, moreThan?: number}} NumberSpec
 */

/** @param {NumberSpec} spec @param {string} value @returns {string|null} */
function numberComplaint(spec, value) {
  if (spec.whole && !isWhole(value)) return text.whole;
  const number = Number(value);
  if (spec.least !== undefined && number < spec.least) return text.tooSmall(spec.least);
  if (spec.moreThan !== undefined && number <= spec.moreThan)
    return `This has to be more than ${spec.moreThan}.`;
  if (spec.most !== undefined && number > spec.most) return text.tooBig(spec.most);
  return null;
}

/**
 * An amount: whole numbers come as numbers, others as exact decimal strings.
 * @param {NumberSpec} spec
 */
export function numberField(spec) {
  const input = el("input", {
    type: "text",
    inputmode: spec.whole ? "numeric" : "decimal",
    autocomplete: "off",
    value: spec.value,
    ...spec.props,
  });
  const { node, complain, warn } = frame(spec, input);
  /** @type {Field} */
  const field = {
    name: spec.name,
    node,
    complain,
    warn,
    raw: () => input.value,
    setRaw: (value) => {
      input.value = value;
    },
    focus: () => input.focus(),
    read() {
      const found = readDecimal(input.value);
      if (found.ok) {
        const complaint = numberComplaint(spec, found.text);
        if (complaint) return { ok: false, message: complaint };
        return { ok: true, value: spec.whole ? Number(found.text) : found.text };
      }
      if (found.problem === "empty") {
        return spec.required
          ? { ok: false, message: spec.missing ?? text.needed }
          : { ok: true, value: undefined };
      }
      if (found.problem === "ambiguous") {
        return { ok: false, message: askBack(input, found.readings ?? [], () => complain(null)) };
      }
      return { ok: false, message: text.number };
    },
  };
  input.addEventListener("blur", () => {
    const found = field.read();
    if (found.ok) complain(null);
    else if (input.value.trim()) complain(found.message);
  });
  return field;
}

/** @param {HTMLInputElement} input @param {string[]} readings @param {() => void} settled */
function askBack(input, readings, settled) {
  return [
    el("span", {}, text.twoWays(input.value)),
    el(
      "span",
      { class: "readings" },
      readings.map((reading) => {
        const words = reading.includes(".")
          ? `${reading.replace(".", ",")} (${reading.split(".")[0]} and a fraction)`
          : `${reading.replace(/\B(?=(\d{3})+$)/g, " ")} (thousands)`;
        const button = el("button", { type: "button", class: "button" }, words);
        button.addEventListener("click", () => {
          input.value = reading.includes(".") ? `${reading}0` : reading;
          input.dispatchEvent(new Event("input", { bubbles: true }));
          settled();
          input.focus();
        });
        return button;
      }),
    ),
  ];
}

/**
 * One of a few, as large buttons.
 * @param {FieldSpec & {options: {value: string, text: string, hint?: string}[]}} spec
 * @returns {Field}
 */
export function choiceField(spec) {
  const group = freshId("choice");
  const inputs = spec.options.map((one) =>
    el("input", {
      type: "radio",
      name: group,
      value: one.value,
      id: freshId("radio"),
      checked: one.value === spec.value,
    }),
  );
  const rows = spec.options.map((one, i) =>
    el(
      "label",
      { class: "choice", for: inputs[i].id },
      inputs[i],
      el("span", {}, one.text, one.hint && el("span", { class: "hint" }, one.hint)),
    ),
  );
  const hint = spec.hint && el("p", { class: "hint" }, spec.hint);
  const node = el("fieldset", { class: "field choices" }, el("legend", {}, spec.label), hint, rows);
  const said = messages(node);
  node.append(...said.nodes);
  const chosen = () => inputs.find((input) => input.checked)?.value ?? "";
  return {
    name: spec.name,
    node,
    complain: said.complain,
    warn: said.warn,
    raw: chosen,
    setRaw: (value) =>
      inputs.forEach((input) => {
        input.checked = input.value === value;
      }),
    focus: () => (inputs.find((input) => input.checked) ?? inputs[0]).focus(),
    read() {
      if (!chosen() && spec.required)
        return { ok: false, message: spec.missing ?? "Please choose one." };
      return { ok: true, value: chosen() || undefined };
    },
  };
}

/** @param {FieldSpec} spec @returns {Field}  yes or no; a required one has to be ticked */
export function tickField(spec) {
  const input = el("input", {
    type: "checkbox",
    id: freshId("tick"),
    checked: spec.value === "yes",
  });
  const said = messages(input);
  input.setAttribute("aria-describedby", said.ids.join(" "));
  const node = el(
    "div",
    { class: "field" },
    el(
      "label",
      { class: "choice", for: input.id },
      input,
      el("span", {}, spec.label, spec.hint && el("span", { class: "hint" }, spec.hint)),
    ),
    said.nodes,
  );
  return {
    name: spec.name,
    node,
    complain: said.complain,
    warn: said.warn,
    raw: () => (input.checked ? "yes" : ""),
    setRaw: (value) => {
      input.checked = value === "yes";
    },
    focus: () => input.focus(),
    read() {
      if (!input.checked && spec.required)
        return { ok: false, message: spec.missing ?? text.needed };
      return { ok: true, value: input.checked };
    },
  };
}
