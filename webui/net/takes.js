/** Stock-takes at the service, and the count of a goblet that this tab keeps until it is sent. */

import { newCount } from "../logic/counts.js";
import { forgetAct, sendAct } from "./acts.js";
import { get } from "./api.js";
import { forget, keep, recall } from "./keep.js";

/** @param {string} id */
export function loadTake(id) {
  return get(`/stock-takes/${encodeURIComponent(id)}`);
}

/** @param {string} takeId @param {import("../logic/stock_takes.js").Goblet} goblet */
function keyOf(takeId, goblet) {
  return `count:${takeId}:${goblet.goblet_id}:${goblet.rounds}`;
}

/** @param {string} takeId @param {import("../logic/stock_takes.js").Goblet} goblet @returns {import("../logic/counts.js").GobletCount} */
export function presentCount(takeId, goblet) {
  return { ...newCount(), ...recall(keyOf(takeId, goblet)) };
}

/** @param {string} takeId @param {import("../logic/stock_takes.js").Goblet} goblet @param {import("../logic/counts.js").GobletCount} count */
export function keepCount(takeId, goblet, count) {
  keep(keyOf(takeId, goblet), count);
}

/** Begin anew: the next sending is another act. @param {string} takeId @param {import("../logic/stock_takes.js").Goblet} goblet */
export function dropCount(takeId, goblet) {
  forget(keyOf(takeId, goblet));
  forgetAct(keyOf(takeId, goblet));
}

/** The first try did arrive; what is on the screen now is another count. @param {string} takeId @param {import("../logic/stock_takes.js").Goblet} goblet */
export function countAnew(takeId, goblet) {
  forgetAct(keyOf(takeId, goblet));
}

/** @param {string} takeId @param {import("../logic/stock_takes.js").Goblet} goblet @param {Record<string, unknown>} body */
export async function sendCount(takeId, goblet, body) {
  const { data } = await sendAct(keyOf(takeId, goblet), `/stock-takes/${takeId}/counts`, body);
  forget(keyOf(takeId, goblet));
  return data;
}
