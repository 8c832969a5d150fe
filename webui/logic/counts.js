/**
 * One goblet as it is being counted: what was entered so far, and what is sent of it. Pure: times
 * come in, a new count goes out. Nothing here knows what the book expects.
 */

import { looksLikeCode, readCode } from "./codes.js";
import { plural } from "./numbers.js";

/** @typedef {{key: string, batch_id?: string, batch_code?: string, name: string, detail: string, straws: number}} BatchCount */
/**
 * @typedef {object} GobletCount
 * @property {"scan"|"number"} way
 * @property {string|null} startedAt  when the canister was lifted, or the first thing entered
 * @property {string|null} doneAt     when the hand was done: lowered, or the last thing entered
 * @property {string|null} upSince    while the canister is up
 * @property {string|null} loweredAt  what is typed afterwards is of that moment
 * @property {number} upSeconds       how long it was up, all lifts together
 * @property {string[]} codes         the newest first
 * @property {BatchCount[]} batches
 * @property {number} unreadable
 * @property {string[]} foreign
 * @property {boolean} empty
 */

/** @returns {GobletCount} */
export function newCount() {
  return {
    way: "scan",
    startedAt: null,
    doneAt: null,
    upSince: null,
    loweredAt: null,
    upSeconds: 0,
    codes: [],
    batches: [],
    unreadable: 0,
    foreign: [],
    empty: false,
  };
}

/**
 * Something was entered. What is typed once the canister is lowered was seen while it was up; a straw
 * that is scanned is in the hand now.
 * @param {GobletCount} count @param {Partial<GobletCount>} change @param {string} now
 * @param {{inHand?: boolean}} [options]
 */
function entered(count, change, now, { inHand = false } = {}) {
  const doneAt = !inHand && count.loweredAt && !count.upSince ? count.doneAt : now;
  return { ...count, empty: false, startedAt: count.startedAt ?? now, doneAt, ...change };
}

/** @param {GobletCount} count @param {string} now */
export function lift(count, now) {
  return { ...count, startedAt: count.startedAt ?? now, upSince: now };
}

/** @param {GobletCount} count @param {string} now */
export function lower(count, now) {
  if (!count.upSince) return count;
  const seconds = (Date.parse(now) - Date.parse(count.upSince)) / 1000;
  const upSeconds = count.upSeconds + Math.max(0, seconds);
  return { ...count, upSince: null, upSeconds, loweredAt: now, doneAt: now };
}

/** @param {GobletCount} count @param {"scan"|"number"} way */
export function chooseWay(count, way) {
  return { ...count, way };
}

/** @param {GobletCount} count @param {string} code @param {string} now */
export function addCode(count, code, now) {
  return count.codes.includes(code)
    ? count
    : entered(count, { codes: [code, ...count.codes] }, now, { inHand: true });
}

/** @param {GobletCount} count @param {string} code @param {string} now */
export function dropCode(count, code, now) {
  return entered(count, { codes: count.codes.filter((one) => one !== code) }, now);
}

/** @param {GobletCount} count @param {Omit<BatchCount, "straws">} batch @param {string} now */
export function addBatch(count, batch, now) {
  if (count.batches.some((one) => one.key === batch.key)) return count;
  return entered(count, { batches: [{ ...batch, straws: 0 }, ...count.batches] }, now);
}

/** @param {GobletCount} count @param {string} key @param {number} straws @param {string} now */
export function setStraws(count, key, straws, now) {
  const batches = count.batches.map((one) => (one.key === key ? { ...one, straws } : one));
  return entered(count, { batches }, now);
}

/** @param {GobletCount} count @param {string} key @param {string} now */
export function dropBatch(count, key, now) {
  return entered(count, { batches: count.batches.filter((one) => one.key !== key) }, now);
}

/** @param {GobletCount} count @param {number} unreadable @param {string} now */
export function setUnreadable(count, unreadable, now) {
  return entered(count, { unreadable }, now);
}

/** @param {GobletCount} count @param {string} mark @param {string} now */
export function addForeign(count, mark, now) {
  return entered(count, { foreign: [...count.foreign, mark.slice(0, 200)] }, now);
}

/** @param {GobletCount} count @param {number} at @param {string} now */
export function dropForeign(count, at, now) {
  return entered(count, { foreign: count.foreign.filter((_, i) => i !== at) }, now);
}

/** @param {GobletCount} count @param {boolean} empty @param {string} now */
export function setEmpty(count, empty, now) {
  return entered(count, { empty }, now);
}

/** What stands in it so far. @param {GobletCount} count */
export function strawsSeen(count) {
  return count.codes.length + count.batches.reduce((sum, one) => sum + one.straws, 0);
}

/** @param {GobletCount} count */
export function isNothing(count) {
  return !strawsSeen(count) && !count.unreadable && !count.foreign.length && !count.empty;
}

/** A batch that was added and has no number yet: somebody may have forgotten it. @param {GobletCount} count */
export function forgotten(count) {
  return count.batches.find((one) => !one.straws) ?? null;
}

/**
 * What a mark that was scanned or typed is, before anybody is asked: a code of ours, a misread one
 * (of the right form, but the check says no), or something foreign.
 * @param {string} text @returns {"ours"|"misread"|"foreign"}
 */
export function judgeMark(text) {
  const read = readCode(text);
  if (read.ok) return "ours";
  return read.problem === "misread" || looksLikeCode(text) || read.problem === "empty"
    ? "misread"
    : "foreign";
}

/**
 * What is sent, so that the same count is the same text however often it is sent.
 * @param {GobletCount} count @param {string} gobletId
 */
export function bodyOf(count, gobletId) {
  const batches = count.batches
    .filter((one) => one.straws > 0)
    .map(({ batch_id, batch_code, straws }) =>
      batch_id ? { batch_id, straws } : { batch_code, straws },
    );
  return {
    goblet_id: gobletId,
    started_at: count.startedAt,
    occurred_at: count.doneAt,
    batches,
    ...(count.codes.length ? { straw_codes: [...count.codes].reverse() } : {}),
    unreadable: count.unreadable,
    foreign: count.foreign,
  };
}

/** "24 straws, 1 of them unreadable, 1 foreign mark". @param {{straws: number, unreadable: number, foreign: string[]}} seen */
export function seenInWords({ straws, unreadable, foreign }) {
  const parts = [
    straws && plural(straws, "straw"),
    unreadable && `${unreadable} unreadable`,
    foreign.length && plural(foreign.length, "foreign mark"),
  ].filter(Boolean);
  return parts.length ? parts.join(", ") : "the goblet is empty";
}

/** How long the canister may be up before somebody is told to lower it. */
export const UP_WARN_SECONDS = 10;
export const UP_OVER_SECONDS = 20;

/** @param {number} seconds @returns {"up"|"soon"|"over"} */
export function upState(seconds) {
  if (seconds >= UP_OVER_SECONDS) return "over";
  return seconds >= UP_WARN_SECONDS ? "soon" : "up";
}
