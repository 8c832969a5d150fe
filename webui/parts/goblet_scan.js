/** Choosing the goblet of a form by scanning its plate. */

import { get } from "../net/api.js";

const text = {
  into: (/** @type {string} */ address) => `Into ${address}`,
  chosen: "This goblet is chosen below.",
  notOffered: (/** @type {string} */ address) =>
    `${address} is not offered here: it is full, or it is the one they are in.`,
};

/**
 * For `codePicker`: the scanned goblet is set in the field, when it is one of its options.
 * @param {() => import("./fields.js").Field} field
 */
export function chooseGoblet(field) {
  return async (/** @type {string} */ code) => {
    try {
      const found = await get(`/scan/${code}`);
      const choice = field();
      const before = choice.raw();
      choice.setRaw(found.id);
      if (choice.raw() !== found.id) {
        choice.setRaw(before);
        const facts = [found.address];
        const why = text.notOffered(found.address);
        return /** @type {const} */ ({ kind: "refused", text: why, facts });
      }
      choice.node.dispatchEvent(new Event("input", { bubbles: true }));
      choice.complain(null);
      return /** @type {const} */ ({
        kind: "done",
        word: text.into(found.address),
        text: text.chosen,
      });
    } catch (problem) {
      return /** @type {const} */ ({
        kind: "refused",
        text: /** @type {any} */ (problem).message,
      });
    }
  };
}
