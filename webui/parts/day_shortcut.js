/** A button below a day that fills in the usual one. */

import { el } from "./dom.js";

/**
 * @param {import("./fields.js").Field} field the day
 * @param {string} words of the button
 * @param {() => {day: string} | {odd: string}} find the day, or why there is none
 */
export function dayShortcut(field, words, find) {
  const button = el("button", { type: "button", class: "button" }, words);
  button.addEventListener("click", () => {
    const found = find();
    field.warn("odd" in found ? found.odd : null);
    if (!("day" in found)) return;
    field.complain(null);
    field.setRaw(found.day);
    field.node.dispatchEvent(new Event("input", { bubbles: true }));
  });
  field.node.append(button);
  return field;
}
