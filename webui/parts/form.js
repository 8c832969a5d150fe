/**
 * A form that keeps what was typed, says what is wrong beside the field it is about, cannot be sent
 * twice by a double click, and stays as it is when the service does not answer.
 */

import { forgetAct } from "../net/acts.js";
import { forget, keep, recall } from "../net/keep.js";
import { el, show } from "./dom.js";
import { refresh } from "./go.js";
import { announce } from "./live.js";
import { inWords } from "./problem.js";

/** @typedef {import("./fields.js").Field} Field */

const text = {
  check: "Please look at the marked fields.",
  keptDraft: "Your earlier entries are still here.",
  startEmpty: "Start empty",
  sending: "Sending …",
  again: "Try again",
  furtherAct: "This is a further act: let me send it",
  book: "See the book",
};

/** @param {Record<string, any>} target @param {string} name @param {any} value */
function place(target, name, value) {
  const path = name.split(".");
  const last = /** @type {string} */ (path.pop());
  let at = target;
  for (const part of path) at = at[part] ??= {};
  at[last] = value;
}

/**
 * Read all fields; complaints go beside them.
 * @param {Field[]} fields @param {{quiet?: boolean}} [options]
 * @returns {{values: Record<string, any>, wrong: Field[]}}
 */
export function readFields(fields, { quiet = false } = {}) {
  /** @type {Record<string, any>} */
  const values = {};
  /** @type {Field[]} */
  const wrong = [];
  for (const field of fields) {
    const found = field.read();
    if (found.ok) {
      if (!quiet) field.complain(null);
      if (found.value !== undefined) place(values, field.name, found.value);
    } else {
      if (!quiet) field.complain(found.message);
      wrong.push(field);
    }
  }
  return { values, wrong };
}

/** @param {string} name  as servers name fields: "body.collection.volume_ml", "collection/volume_ml" */
function plainName(name) {
  return name.replace(/^\/?(body[./])?/, "").replaceAll("/", ".");
}

/** "placements[1].straws" is within "placements". @param {string} inner @param {string} outer */
function isWithin(inner, outer) {
  return inner.startsWith(outer) && /^[.[]/.test(inner.slice(outer.length));
}

/** @param {Field[]} fields @param {{field: string, message: string}[]} errors */
export function spread(fields, errors) {
  const left = [];
  let first = null;
  for (const error of errors) {
    const name = plainName(error.field);
    const field =
      fields.find((one) => one.name === name) ??
      fields.find((one) => isWithin(name, one.name) || isWithin(one.name, name));
    if (field) field.complain(error.message);
    else left.push(error);
    first ??= field;
  }
  return { left, first };
}

/**
 * @typedef {object} FormSpec
 * @property {string} key  names the form and its subject: the draft and the act's id hang on it
 * @property {() => Field[]} fields  all fields as they are now (rows may come and go)
 * @property {import("./dom.js").Children} body
 * @property {string} submit  the button's words
 * @property {"primary"|"danger"} [kind]
 * @property {(values: Record<string, any>) => Promise<void|boolean>} send  false: given up, nothing sent
 * @property {(problem: any) => boolean} [refused]  true when it has dealt with the refusal itself
 * @property {boolean} [draft]  keep what is typed over a reload (default yes)
 */

/** @param {FormSpec} spec */
export function form(spec) {
  const said = el("div", { class: "form-problem", tabindex: "-1" });
  const submit = el(
    "button",
    { type: "submit", class: `button button-${spec.kind ?? "primary"} button-wide` },
    spec.submit,
  );
  const kept = spec.draft === false ? null : recall(`draft:${spec.key}`);
  const node = el(
    "form",
    { novalidate: true, class: "form" },
    kept && draftNote(spec),
    spec.body,
    said,
    submit,
  );
  if (kept) restore(spec.fields(), kept);
  if (spec.draft !== false) node.addEventListener("input", () => saveDraft(spec));
  node.addEventListener("submit", (event) => {
    event.preventDefault();
    if (!submit.disabled) trySend(spec, said, submit);
  });
  return { node, submit, said };
}

/** @param {FormSpec} spec */
function draftNote(spec) {
  const clear = el("button", { type: "button", class: "button button-quiet" }, text.startEmpty);
  clear.addEventListener("click", () => {
    forget(`draft:${spec.key}`);
    forgetAct(spec.key);
    refresh();
  });
  return el("div", { class: "draft-note" }, el("p", {}, text.keptDraft), clear);
}

/** @param {FormSpec} spec */
export function saveDraft(spec) {
  keep(
    `draft:${spec.key}`,
    Object.fromEntries(spec.fields().map((field) => [field.name, field.raw()])),
  );
}

/** @param {Field[]} fields @param {Record<string, string>} kept */
function restore(fields, kept) {
  for (const field of fields) if (kept[field.name]) field.setRaw(kept[field.name]);
}

/** @param {FormSpec} spec @param {HTMLElement} said @param {HTMLButtonElement} submit */
async function trySend(spec, said, submit) {
  show(said);
  const { values, wrong } = readFields(spec.fields());
  if (wrong.length) {
    show(said, el("p", { class: "problem" }, text.check));
    announce(text.check);
    wrong[0].focus();
    return;
  }
  busy(submit, spec.submit, true);
  try {
    const sent = await spec.send(values);
    if (sent !== false) forget(`draft:${spec.key}`);
  } catch (problem) {
    busy(submit, /** @type {any} */ (problem).unanswered ? text.again : spec.submit, false);
    if (!spec.refused?.(problem)) tell(spec, said, problem);
    return;
  }
  busy(submit, spec.submit, false);
}

/** @param {HTMLButtonElement} button @param {string} words @param {boolean} on */
export function busy(button, words, on) {
  button.disabled = on;
  button.setAttribute("aria-busy", String(on));
  button.textContent = on ? text.sending : words;
}

/** Show a failure above the button and beside its fields. @param {FormSpec} spec @param {HTMLElement} said @param {any} problem */
export function tell(spec, said, problem) {
  const { left, first } = spread(spec.fields(), problem.errors ?? []);
  const { what, then } = inWords(problem, "book");
  show(
    said,
    el(
      "div",
      { class: "problem", role: "alert" },
      el("p", { class: "problem-what" }, what),
      then && el("p", {}, then),
      left.length > 0 &&
        el(
          "ul",
          {},
          left.map((one) => el("li", {}, `${one.field}: ${one.message}`)),
        ),
      problem.code === "id-reused" && reusedWays(spec, said),
    ),
  );
  if (first) first.focus();
  else said.focus();
}

/** @param {FormSpec} spec @param {HTMLElement} said */
function reusedWays(spec, said) {
  const again = el("button", { type: "button", class: "button" }, text.furtherAct);
  again.addEventListener("click", () => {
    forgetAct(spec.key);
    show(said);
  });
  return el("p", { class: "ways" }, el("a", { class: "button", href: "#/book" }, text.book), again);
}
