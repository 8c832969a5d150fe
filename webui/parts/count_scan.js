/** What a scan does while a goblet is counted: nothing is asked that would tell what the book expects. */

import { all, get } from "../net/api.js";
import { groupedCode } from "../logic/codes.js";
import { addBatch, addCode, addForeign, judgeMark } from "../logic/counts.js";
import { batchInWords } from "./batch_choice.js";
import { gobletsByPlate } from "./plates_lead.js";

const text = {
  read: "Counted.",
  again: "This one is counted already. It counts once.",
  foreignWord: "Not ours",
  foreign: "Kept under the marks that are not of this bank. Was it misread? Then take it off there.",
  misread:
    "One sign is wrong or two are swapped. Scan again; if the mark cannot be read, count it as unreadable.",
  batch: "It stands above now. Say how many there are.",
  batchAgain: "It stands above already. Say how many there are.",
  noBatch: "No batch of this bank has this code. Kept under the marks that are not of this bank.",
  noStraw: "This code is of our form, but no straw of ours has it. Scan the straws one by one, or count it as not ours.",
  offline: "It could not be looked up now: no answer. Choose the stallion and the batch below.",
  here: "That is this goblet’s plate: you are at the right one.",
  other: (/** @type {string} */ place) => `That is the plate of ${place}. Send this count first.`,
  otherPlace: "another goblet",
  place: "That is the plate of a canister or a tank. Scan straws.",
};

/** @typedef {import("../logic/counts.js").GobletCount} GobletCount */
/** @typedef {import("./said.js").Said} Said */
/**
 * @typedef {object} Counting
 * @property {string} gobletId
 * @property {() => GobletCount} count
 * @property {(change: (count: GobletCount, now: string) => GobletCount) => void} change
 */

/** @param {any} batch */
export function newBatch(batch) {
  return {
    key: batch.id,
    batch_id: batch.id,
    name: `${batch.stallion_name}, batch ${groupedCode(batch.code)}`,
    detail: batchInWords(batch),
  };
}

/** @param {Counting} counting @param {any} batch @param {string} code @returns {Said} */
function batchAdded(counting, batch, code) {
  const facts = [batch.stallion_name];
  if (counting.count().batches.some((one) => one.key === batch.id))
    return { kind: "again", code, facts, text: text.batchAgain };
  counting.change((count, now) => addBatch(count, newBatch(batch), now));
  return { kind: "done", code, facts, text: text.batch };
}

/** @param {any} problem @returns {Said|null} null: it was answered, and there is no such thing */
function unanswered(problem) {
  return problem.status === 404 ? null : { kind: "refused", text: text.offline };
}

/** A batch by the code on its mark, out of the list of all. @param {Counting} counting @param {string} code @returns {Promise<Said>} */
async function byBatchCode(counting, code) {
  try {
    const found = (await all("/batches")).find((one) => one.code === code);
    if (found) return batchAdded(counting, found, code);
  } catch (problem) {
    return unanswered(problem) ?? { kind: "refused", text: text.offline };
  }
  counting.change((count, now) => addForeign(count, code, now));
  return { kind: "check", word: text.foreignWord, code, text: text.noBatch };
}

/** A batch by the code of one of its straws. @param {Counting} counting @param {string} code @returns {Promise<Said>} */
async function byStrawCode(counting, code) {
  try {
    const straw = await get(`/straws/${code}`);
    const batches = await all("/batches", { stallion_id: straw.stallion_id });
    const found = batches.find((one) => one.id === straw.batch_id);
    if (found) return batchAdded(counting, found, code);
    return { kind: "refused", code, text: text.offline };
  } catch (problem) {
    return unanswered(problem) ?? { kind: "refused", code, text: text.noStraw };
  }
}

/** @param {Counting} counting @param {string} code @returns {Promise<Said>} */
async function placeSaid(counting, code) {
  const plates = await gobletsByPlate().catch(() => new Map());
  const found = plates.get(code);
  if (found?.id === counting.gobletId) return { kind: "done", code, text: text.here };
  return { kind: "refused", code, text: text.other(found?.address ?? text.otherPlace) };
}

/**
 * What a code of ours does.
 * @param {Counting} counting @param {string} code @param {string} kind
 * @returns {Promise<Said>|Said}
 */
export function takeCode(counting, code, kind) {
  if (kind === "goblet") return placeSaid(counting, code);
  if (kind === "batch") return byBatchCode(counting, code);
  if (kind !== "straw") return { kind: "refused", code, text: text.place };
  if (counting.count().way === "number") return byStrawCode(counting, code);
  if (counting.count().codes.includes(code)) return { kind: "again", code, text: text.again };
  counting.change((count, now) => addCode(count, code, now));
  return { kind: "done", code, text: text.read };
}

/** What a mark that is no code of ours does. @param {Counting} counting @param {string} mark @returns {Said} */
export function takeMark(counting, mark) {
  if (judgeMark(mark) === "misread") return { kind: "refused", text: text.misread };
  counting.change((count, now) => addForeign(count, mark, now));
  return { kind: "check", word: text.foreignWord, text: `“${mark}”: ${text.foreign}` };
}
