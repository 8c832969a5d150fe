/** A small whole number with large minus and plus, for gloves. */

import { readDecimal, isWhole } from "../logic/numbers.js";
import { el, freshId } from "./dom.js";

/**
 * @param {{label: string, value: number, least?: number, most: number, changed: (value: number) => void}} spec
 */
export function stepper({ label, value, least = 0, most, changed }) {
  const input = el("input", {
    type: "text",
    inputmode: "numeric",
    id: freshId("step"),
    value,
    autocomplete: "off",
  });
  const clamp = (/** @type {number} */ number) => Math.max(least, Math.min(most, number));
  const typed = () => {
    const found = readDecimal(input.value);
    return found.ok && isWhole(found.text) ? clamp(Number(found.text)) : value;
  };
  const set = (/** @type {number} */ number) => {
    input.value = String(clamp(number));
    changed(clamp(number));
  };
  input.addEventListener("change", () => set(typed()));
  const button = (
    /** @type {string} */ sign,
    /** @type {string} */ name,
    /** @type {number} */ by,
  ) => {
    const node = el("button", { type: "button", class: "button", "aria-label": name }, sign);
    node.addEventListener("click", () => set(typed() + by));
    return node;
  };
  const node = el(
    "div",
    { class: "field" },
    el("label", { for: input.id }, label),
    el(
      "div",
      { class: "stepper" },
      button("−", "One fewer", -1),
      input,
      button("+", "One more", 1),
    ),
  );
  return { node, value: typed, set };
}
