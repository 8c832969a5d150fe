/**
 * Which labels a camera sees anew. A label that stays in sight counts once, however slow the looks
 * are; one that was away counts again.
 */

/** So long, and so many looks, it has to be out of sight. */
const AWAY_MS = 2000;
const AWAY_LOOKS = 3;

/** @typedef {Map<string, {at: number, missed: number}>} Sightings  by code */

/**
 * @param {Sightings} before @param {string[]} codes what this look saw @param {number} at in ms
 * @returns {{sightings: Sightings, fresh: string[]}}
 */
export function look(before, codes, at) {
  const kept = [...before]
    .filter(([code]) => !codes.includes(code))
    .map(([code, seen]) => /** @type {const} */ ([code, { at: seen.at, missed: seen.missed + 1 }]))
    .filter(([, seen]) => seen.missed < AWAY_LOOKS || at - seen.at <= AWAY_MS);
  const now = codes.map((code) => /** @type {const} */ ([code, { at, missed: 0 }]));
  return {
    sightings: new Map([...kept, ...now]),
    fresh: [...new Set(codes)].filter((code) => !before.has(code)),
  };
}
