/**
 * A field for codes: typed, or sent by a scanner that acts as a keyboard (it need not have the
 * focus). The check symbol is tried here as the ninth sign is typed, so a misread is told at once
 * and without the network.
 */

import {
  groupedAsTyped,
  groupedCode,
  misreadInWords,
  otherKindInWords,
  readCode,
  readOnTheSpot,
} from "../logic/codes.js";
import { camera } from "./camera.js";
import { el, freshId, show } from "./dom.js";
import { tell } from "./said.js";
import { misread, takesScans } from "./wedge.js";

/** @typedef {import("./said.js").Said} Said */
/**
 * @typedef {object} ScanSpec
 * @property {string} label
 * @property {string} [hint]
 * @property {string} [button]
 * @property {string[]} [wanted]  kinds that are taken here; any without
 * @property {(text: string) => Said|null} [strange]  what becomes of a mark that is none of ours;
 *   null: it is a misread, and told so
 * @property {(code: string, kind: string) => Promise<Said|null>|Said|null} got
 *   what to say about it; null where it is said elsewhere
 */

const text = {
  complete: (/** @type {string} */ code, /** @type {string} */ kind) =>
    `${groupedCode(code)} is the code of a ${kind}, and its check is right.`,
  looking: (/** @type {string} */ code) => `${groupedCode(code)} …`,
};

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
  const spot = el("p", { class: "scan-spot", id: freshId("spot"), "aria-live": "polite" });
  const said = el("div", { class: "scan-said" });
  input.setAttribute("aria-describedby", spot.id);
  const button = el("button", { type: "button", class: "button" }, spec.button ?? "Add");
  const take = () => takeTyped(spec, input, spot, said);
  button.addEventListener("click", take);
  input.addEventListener("keydown", (event) => {
    const ends =
      event.key === "Enter" || (event.key === "Tab" && !event.shiftKey && input.value.trim());
    if (!ends) return;
    event.preventDefault();
    take();
  });
  input.addEventListener("input", (event) => onTheSpot(spec, input, spot, event));
  takesScans(input, ({ arrived, code, kind, problem }) => {
    input.value = "";
    show(spot);
    if (code && kind) takeCode(spec, said, code, kind);
    else tell(said, spec.strange?.(arrived) ?? misread({ arrived, problem }));
  });
  const seen = camera((code, kind) => takeCode(spec, said, code, kind));
  const node = el(
    "div",
    { class: "field scan-field" },
    said,
    el("label", { for: input.id }, spec.label),
    spec.hint && el("p", { class: "hint" }, spec.hint),
    el("div", { class: "scan" }, input, button, seen.button),
    spot,
    seen.panel,
  );
  return { node, focus: () => input.focus() };
}

/**
 * While it is typed: in groups as it is printed, and tried as soon as it is whole.
 * @param {ScanSpec} spec @param {HTMLInputElement} input @param {HTMLElement} spot @param {Event} event
 */
function onTheSpot(spec, input, spot, event) {
  const atEnd = input.selectionStart === input.value.length;
  const erasing = /** @type {InputEvent} */ (event).inputType?.startsWith("delete");
  const grouped = groupedAsTyped(input.value);
  if (grouped && atEnd && !erasing && grouped !== input.value) input.value = grouped;
  const read = readOnTheSpot(input.value);
  const wrong = read && (read.ok ? otherKind(spec, read.kind) : misreadInWords(read));
  spot.className = `scan-spot ${read ? (wrong ? "scan-spot-wrong" : "scan-spot-right") : ""}`;
  show(spot, read?.ok && !wrong ? text.complete(read.code, read.kind) : wrong);
}

/** What to say of a kind that is not wanted here; null of one that is. @param {ScanSpec} spec @param {string} kind */
function otherKind({ wanted }, kind) {
  return wanted && !wanted.includes(kind) ? otherKindInWords(kind, wanted) : null;
}

/** @param {ScanSpec} spec @param {HTMLInputElement} input @param {HTMLElement} spot @param {HTMLElement} said */
function takeTyped(spec, input, spot, said) {
  const typed = input.value.trim();
  const read = readCode(typed);
  if (!read.ok) {
    const problem = misreadInWords(read);
    const strange = typed && spec.strange?.(typed);
    if (strange) {
      input.value = "";
      show(spot);
      tell(said, strange);
      return;
    }
    tell(said, typed ? misread({ arrived: typed, problem }) : { kind: "refused", text: problem });
    input.select();
    return;
  }
  input.value = "";
  show(spot);
  takeCode(spec, said, read.code, read.kind);
}

/** @param {ScanSpec} spec @param {HTMLElement} said @param {string} code @param {string} kind */
async function takeCode(spec, said, code, kind) {
  const other = otherKind(spec, kind);
  if (other) {
    tell(said, { kind: "refused", code, text: other });
    return;
  }
  const answer = spec.got(code, kind);
  if (answer instanceof Promise) said.dataset.looking = text.looking(code);
  const result = await answer;
  delete said.dataset.looking;
  if (result) tell(said, { code, ...result });
}
