/**
 * Booking an act exactly once. Its id is made when the form is first sent and kept until the
 * service has answered yes; a double click, a retry after a lost answer or a reload sends the same
 * id, and the service then answers the first booking again instead of booking twice.
 */

import { uuidv7 } from "../logic/ids.js";
import { call } from "./api.js";
import { forget, keep, recall } from "./keep.js";

export function newId() {
  return uuidv7(Date.now(), crypto.getRandomValues(new Uint8Array(10)));
}

/** @type {Map<string, Promise<import("./api.js").Answer>>} */
const underWay = new Map();

/** @param {string} form names the form and what it is about, e.g. "move:GOBLET" */
export function actId(form) {
  const kept = recall(`act:${form}`);
  if (kept) return kept;
  const id = newId();
  keep(`act:${form}`, id);
  return id;
}

/** The next sending of this form is a new act. @param {string} form */
export function forgetAct(form) {
  forget(`act:${form}`);
}

/**
 * Send an act. A second call while the first is under way gets the first one's answer.
 * @param {string} form @param {string} path @param {Record<string, unknown>} body
 * @returns {Promise<import("./api.js").Answer>}
 */
export function sendAct(form, path, body) {
  const running = underWay.get(form);
  if (running) return running;
  const sending = call("POST", path, { body: { id: actId(form), ...body } })
    .then((answer) => {
      forgetAct(form);
      return answer;
    })
    .finally(() => underWay.delete(form));
  underWay.set(form, sending);
  return sending;
}
