/** The dose that is being taken, kept in this tab until it is booked: whom it is for, plan, walk. */

import { forgetAct } from "./acts.js";
import { forget, keep, recall } from "./keep.js";

/**
 * @typedef {object} Taking
 * @property {string} stallion_id
 * @property {string} stallion_name
 * @property {number} doses
 * @property {{name: string, mare_id?: string, mare?: any}} mare
 * @property {any} plan
 * @property {import("../logic/walk.js").Walk} walk
 * @property {string} [release_reserve]
 * @property {string} [override_reason]
 * @property {string} [owner]  whose straws; the common stock without
 */

const KEY = "taking";
export const ACT = "withdrawal";

/** @returns {Taking|null} */
export function presentTaking() {
  return recall(KEY);
}

/** @param {Taking} taking */
export function keepTaking(taking) {
  keep(KEY, taking);
}

/** Give up a dose that was not booked; the next one is a new act. */
export function dropTaking() {
  forget(KEY);
  forgetAct(ACT);
}
