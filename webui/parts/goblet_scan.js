/** Choosing the goblets of a form by scanning their plates. */

import { get } from "../net/api.js";
import { plural } from "../logic/numbers.js";
import { note, onScan } from "./wedge.js";

const text = {
  into: (/** @type {string} */ address) => `Into ${address}`,
  chosen: "This goblet is chosen below.",
  notOffered: (/** @type {string} */ address) =>
    `${address} is not offered here: it is full, or it is the one they are in.`,
  goesIn: (/** @type {number} */ straws) => `${plural(straws, "straw")} of this freeze go in here.`,
  added: (/** @type {number} */ straws) =>
    straws
      ? `Added to the places, for ${plural(straws, "straw")}.`
      : "Added to the places. Say how many go in here, and take them off another place.",
  noRoom: "It is full, or not in use. Nothing of this freeze goes in here.",
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

/**
 * On the page of a freeze a goblet's plate tells how many straws go in, or becomes one more place.
 * @param {AbortSignal} signal
 * @param {{scanned: (id: string) => {goblet: any, straws: number, added: boolean}}} places
 */
export function placesByScan(signal, places) {
  onScan(signal, ({ code, kind }) => {
    if (kind !== "goblet" || !code) return false;
    get(`/scan/${code}`).then(
      (found) => note(placeInWords(found, places.scanned(found.id))),
      (problem) => note({ kind: "refused", code, text: problem.message }),
    );
    return true;
  });
}

/** @param {any} found @param {{goblet: any, straws: number, added: boolean}} place @returns {import("./said.js").Said} */
function placeInWords(found, { goblet, straws, added }) {
  const facts = [found.address];
  const { code } = found;
  if (added) return { kind: straws ? "done" : "check", code, facts, text: text.added(straws) };
  if (goblet && straws) return { kind: "done", code, facts, text: text.goesIn(straws) };
  return { kind: "refused", code, facts, text: text.noRoom };
}
