/**
 * Choosing whose straws they are and of which batch, out of all there are: never only those that the
 * book has somewhere, and never with a number.
 */

import { all } from "../net/api.js";
import { showDay } from "../logic/times.js";
import { groupedCode } from "../logic/codes.js";
import { el, freshId, show } from "./dom.js";
import { problemBox } from "./problem.js";

const text = {
  search: "Stallion, or a part of his name",
  none: "No stallion is called so.",
  more: "Type more of his name to see the others.",
  of: (/** @type {string} */ name) => `Which batch of ${name}’s?`,
  noBatch: "He has no frozen batch.",
  others: "Another stallion",
  collected: (/** @type {any} */ one) =>
    one.collected_on ? showDay(one.collected_on) : "day not known",
};

const MOST = 8;

/** What is said of a batch. @param {any} one */
export function batchInWords(one) {
  const marks = one.marks_as_read ? `marked ${one.marks_as_read}` : "";
  return [text.collected(one), one.straw_colour && `${one.straw_colour} straws`, marks]
    .filter(Boolean)
    .join(", ");
}

/** @param {(batch: any) => void} chosen */
export function batchChoice(chosen) {
  const input = el("input", {
    type: "text",
    id: freshId("stallion"),
    autocomplete: "off",
    spellcheck: "false",
  });
  const list = el("div", { class: "choices-list", "aria-live": "polite" });
  const node = el(
    "div",
    { class: "field" },
    el("label", { for: input.id }, text.search),
    input,
    list,
  );
  /** @type {Promise<any[]>|null} */
  let asked = null;
  const stallions = () => (asked ??= all("/stallions"));
  const look = async () => {
    const typed = input.value.trim().toLowerCase();
    try {
      const known = await stallions();
      const fitting = known.filter((one) => one.name.toLowerCase().includes(typed));
      if (typed !== input.value.trim().toLowerCase()) return;
      show(
        list,
        fitting.slice(0, MOST).map((one) => choiceButton(one.name, "", () => pick(one))),
        !fitting.length && el("p", { class: "hint" }, text.none),
        fitting.length > MOST && el("p", { class: "hint" }, text.more),
      );
    } catch (problem) {
      asked = null;
      show(list, problemBox(problem));
    }
  };
  const pick = async (/** @type {any} */ stallion) => {
    try {
      const batches = await all("/batches", { stallion_id: stallion.id, state: "frozen" });
      const heading = el("p", { tabindex: "-1", class: "batch-of" }, text.of(stallion.name));
      show(
        list,
        batches.length ? heading : el("p", { class: "hint" }, text.noBatch),
        batches.map((one) =>
          choiceButton(groupedCode(one.code), batchInWords(one), () => {
            input.value = "";
            show(list);
            chosen(one);
          }),
        ),
        choiceButton(text.others, "", () => {
          input.value = "";
          look().then(() => input.focus());
        }),
      );
      if (batches.length) heading.focus();
    } catch (problem) {
      show(list, problemBox(problem));
    }
  };
  input.addEventListener("input", look);
  return { node, start: look };
}

/** @param {string} name @param {string} detail @param {() => void} choose */
function choiceButton(name, detail, choose) {
  const button = el(
    "button",
    { type: "button", class: "button batch-button" },
    el("span", {}, name),
    detail && el("span", { class: "batch-detail" }, detail),
  );
  button.addEventListener("click", choose);
  return button;
}
