/**
 * A field for codes, typed or sent by a scanner that acts as a keyboard (it ends with Enter or
 * Tab). The check symbol is tried here, so a misread is told at once and without the network.
 */

import { misreadInWords, readCode } from "../logic/codes.js";
import { el, freshId, show } from "./dom.js";
import { announce } from "./live.js";

/**
 * @typedef {object} ScanSpec
 * @property {string} label
 * @property {string} [hint]
 * @property {string} [button]
 * @property {(code: string, kind: string) => Promise<Said>|Said} got  what to say about it
 */
/** @typedef {{kind: "done"|"check"|"refused", text: string}} Said */

const ICON = { done: "✓", check: "?", refused: "✕" };

/** @param {ScanSpec} spec */
export function scanField(spec) {
  const input = el("input", {
    type: "text",
    id: freshId("scan"),
    autocomplete: "off",
    autocapitalize: "characters",
    spellcheck: "false",
    enterkeyhint: "done",
    maxlength: 60,
  });
  const said = el("p", { class: "scan-said", id: freshId("said") });
  input.setAttribute("aria-describedby", said.id);
  const button = el("button", { type: "button", class: "button" }, spec.button ?? "Add");
  const take = () => takeCode(spec, input, said);
  button.addEventListener("click", take);
  input.addEventListener("keydown", (event) => {
    const ends =
      event.key === "Enter" || (event.key === "Tab" && !event.shiftKey && input.value.trim());
    if (!ends) return;
    event.preventDefault();
    take();
  });
  const node = el(
    "div",
    { class: "field" },
    el("label", { for: input.id }, spec.label),
    spec.hint && el("p", { class: "hint" }, spec.hint),
    el("div", { class: "scan" }, input, button),
    said,
  );
  return { node, focus: () => input.focus() };
}

/** @param {ScanSpec} spec @param {HTMLInputElement} input @param {HTMLElement} said */
async function takeCode(spec, input, said) {
  const typed = input.value;
  const read = readCode(typed);
  if (!read.ok) {
    tellScan(said, {
      kind: "refused",
      text: `${typed.trim() ? `“${typed.trim()}”: ` : ""}${misreadInWords(read)}`,
    });
    input.select();
    return;
  }
  input.value = "";
  tellScan(said, await spec.got(read.code, read.kind));
}

/** @param {HTMLElement} line @param {Said} result */
function tellScan(line, result) {
  line.className = `scan-said scan-${result.kind}`;
  show(line, el("span", { "aria-hidden": "true" }, `${ICON[result.kind]} `), result.text);
  announce(result.text);
}
