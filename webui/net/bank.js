/** What several screens ask about the bank: where a goblet stands, who is in it, whose mark is whose. */

import { marksFor } from "../logic/marks.js";
import { all, get } from "./api.js";

/** @returns {Promise<any[]>} */
export function loadTanks() {
  return all("/tanks");
}

/**
 * The tank and canister a goblet or canister belongs to.
 * @param {any[]} tanks @param {string} id of a goblet or a canister
 */
export function whereIs(tanks, id) {
  for (const tank of tanks) {
    for (const canister of tank.canisters) {
      if (canister.id === id) return { tank, canister, goblet: null };
      const goblet = canister.goblets.find((/** @type {any} */ one) => one.id === id);
      if (goblet) return { tank, canister, goblet };
    }
  }
  return null;
}

/**
 * Every stallion's mark: letters and pattern are ours, the colour is that of his straws.
 * @returns {Promise<Map<string, {name: string, letters: string, pattern: string, colour: string|null}>>}
 */
export async function loadMarks() {
  const stallions = await all("/stallions");
  const marks = marksFor(stallions);
  return new Map(
    stallions.map((one) => {
      const mark = marks.get(one.id) ?? { letters: "?", pattern: "plain" };
      return [one.id, { name: one.name, colour: one.straw_colour ?? null, ...mark }];
    }),
  );
}

/**
 * What lies in each goblet, from the stock list.
 * @param {any[]} stock items of /api/stock
 * @returns {Map<string, any[]>}
 */
export function byGoblet(stock) {
  const found = new Map();
  for (const item of stock) found.set(item.goblet_id, [...(found.get(item.goblet_id) ?? []), item]);
  return found;
}

/** @param {Record<string, string|null|undefined>} query */
export function loadStock(query) {
  return all("/stock", query);
}

/** @param {string} id */
export function loadGoblet(id) {
  return get(`/goblets/${encodeURIComponent(id)}`);
}
