/** The way through the bank as a list of goblets, and how far it is done. */

import { plural } from "../logic/numbers.js";
import { codeText, el } from "./dom.js";

const text = {
  plan: "The way",
  batch: "batch ",
  colour: (/** @type {string} */ colour) => `${colour} straws`,
  taken: (/** @type {number} */ taken, /** @type {number} */ planned) => `${taken} of ${planned}`,
  reopen: "Change",
};

/** @typedef {import("../net/walks.js").Taking} Taking */

/** @param {Taking} taking @param {(index: number) => void} [reopen] */
export function wayList(taking, reopen) {
  return el(
    "ol",
    { class: "walk-list", "aria-label": text.plan },
    taking.walk.steps.map((step, i) =>
      el(
        "li",
        {},
        el(
          "div",
          {},
          el("span", { class: "address" }, step.address),
          el("br"),
          text.batch,
          codeText(step.batch_code),
          step.straw_colour && ` · ${text.colour(step.straw_colour)}`,
        ),
        el(
          "div",
          { class: "taken" },
          step.taken === null ? plural(step.straws, "straw") : text.taken(step.taken, step.straws),
          reopen && step.taken !== null && reopenButton(i, step.address, reopen),
        ),
      ),
    ),
  );
}

/** @param {number} index @param {string} address @param {(index: number) => void} reopen */
function reopenButton(index, address, reopen) {
  const button = el(
    "button",
    { type: "button", class: "button", "aria-label": `${text.reopen} ${address}` },
    text.reopen,
  );
  button.addEventListener("click", () => reopen(index));
  return button;
}

/** @param {import("../logic/walk.js").Walk} walk */
export function progress(walk) {
  return el(
    "ol",
    { class: "walk-progress", "aria-hidden": "true" },
    walk.steps.map((step, i) =>
      el("li", { class: i === walk.at ? "here" : step.taken === null ? "" : "done" }),
    ),
  );
}
