/** Which label of a row is meant: people have its number on a list, or its code in their hand. */

import { looksLikeCode, misreadInWords, readCode } from "./codes.js";

/** @typedef {{ok: true, number: number}|{ok: false, message: string}} Found */

const text = {
  neither: "Its number in the list, or its code.",
  none: (/** @type {number} */ all) => `There are labels 1 to ${all} here.`,
  elsewhere: "This code is not one of this batch.",
};

/**
 * @param {string} typed @param {string[]} codes in the order of their labels
 * @returns {Found}
 */
export function labelNumber(typed, codes) {
  const bare = typed.trim();
  if (/^\d{1,6}$/.test(bare)) {
    const number = Number(bare);
    return number >= 1 && number <= codes.length
      ? { ok: true, number }
      : { ok: false, message: text.none(codes.length) };
  }
  const read = readCode(bare);
  if (!read.ok) {
    const message = looksLikeCode(bare) ? misreadInWords(read) : text.neither;
    return { ok: false, message };
  }
  const at = codes.indexOf(read.code);
  return at < 0 ? { ok: false, message: text.elsewhere } : { ok: true, number: at + 1 };
}
