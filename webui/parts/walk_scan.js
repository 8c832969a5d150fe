/** A code scanned on the walk, compared with the plan at once, and the verdict in words. */

import { get } from "../net/api.js";
import { loadTanks } from "../net/bank.js";
import { moment } from "../net/session.js";
import { groupedCode } from "../logic/codes.js";
import { showDay } from "../logic/times.js";
import { stateInWords } from "../logic/words.js";
import * as walks from "../logic/walk.js";
import { factsOf } from "./found.js";

/** @typedef {import("../net/walks.js").Taking} Taking */
/** @typedef {import("./said.js").Said} Said */
/** @typedef {{verdict: string, found?: any, problem?: any}} Judged */

const text = {
  planned: "One of the plan.",
  twin: "A twin of the same batch: as good. The book takes this one instead.",
  exchange: (/** @type {string} */ state) =>
    `The same batch, and as good. The book had it as ${state}, but by count only: when you book, it changes places with a twin.`,
  again: "That one is read already.",
  full: "As many as this goblet gives are read. Put this one back.",
  wrong: "Wrong stallion",
  "wrong-stallion": (/** @type {any} */ one, /** @type {string} */ name) =>
    `This straw is ${one.stallion_name}’s, not ${name}’s. Put it back at once.`,
  "other-batch": (/** @type {any} */ one, /** @type {any} */ step) =>
    `Another batch, ${groupedCode(one.batch_code)}; the plan takes ${groupedCode(step.batch_code)} here. Put it back.`,
  batchWord: "Wrong batch",
  later: (/** @type {any} */ one) =>
    `Batch ${groupedCode(one.batch_code)} comes at a later goblet of this walk. Put it back for now.`,
  goneWord: "Not in the bank",
  gone: (/** @type {string} */ state, /** @type {string} */ when, /** @type {string} */ who) =>
    `The book has it as ${state} since ${when}${who ? `, by ${who}` : ""}. Put it aside and tell somebody.`,
  takenWord: "Already taken",
  holdWord: "On hold",
  hold: (/** @type {string|null} */ until) =>
    `It may not be used${until ? ` before ${showDay(until)}` : ""}. Put it back.`,
  elsewhere: (/** @type {string} */ there, /** @type {string} */ here) =>
    `The right batch, but the book has this straw in ${there}, and the plan takes from ${here}. Look at the goblet’s plate.`,
  rightPlace: { goblet: "Right goblet", canister: "Right canister", tank: "Right tank" },
  rightText: (/** @type {string} */ name, /** @type {string} */ here) =>
    name === here ? "The plan takes from here." : `${here} hangs in it.`,
  next: (/** @type {string} */ name) => `On to ${name}`,
  nextText: "The goblet before it is confirmed.",
  notYet: (/** @type {string} */ name, /** @type {number} */ left) =>
    `That is ${name}, the next one. Here ${left === 1 ? "one straw is" : `${left} straws are`} not read yet: read on, or say below how many you have.`,
  wrongPlace: { goblet: "Wrong goblet", canister: "Wrong canister", tank: "Wrong tank" },
  otherPlace: (/** @type {string} */ name, /** @type {string} */ here) =>
    `That is ${name}; the plan is at ${here}.`,
  canister: (/** @type {any} */ one) => `canister ${one.number} of ${one.tank_name}`,
  batch: "That is a batch, not a straw.",
  offline: (/** @type {string} */ batch) =>
    `No answer, so this code could not be looked up. Compare the straw with batch ${groupedCode(batch)} by eye.`,
};

/** @param {Taking} taking */
function stepOf({ walk }) {
  return walk.steps[walk.at];
}

/** Where the step's goblet hangs. @param {string} gobletId */
async function hangsIn(gobletId) {
  for (const tank of await loadTanks())
    for (const canister of tank.canisters)
      if (canister.goblets.some((/** @type {any} */ one) => one.id === gobletId))
        return { canister_id: canister.id, tank_id: tank.id };
  return null;
}

/** @param {any} found @param {Taking} taking @returns {Promise<Judged>} */
async function judgeFound(found, taking) {
  const { walk, stallion_id } = taking;
  if (found.kind === "batch") return { verdict: "not-a-straw", found };
  if (found.kind !== "straw") {
    const here = found.kind === "goblet" ? null : await hangsIn(stepOf(taking).goblet_id);
    return { verdict: walks.judgePlace(walk, found, here), found };
  }
  const verdict = walks.judgeFound(walk, found, stallion_id);
  if (verdict !== "gone") return { verdict, found };
  // Who has it, and since when.
  const { history } = await get(`/straws/${found.code}`);
  return { verdict, found: { ...found, last: history.at(-1) } };
}

/** @param {Taking} taking @param {string} code @returns {Promise<Judged>} */
export async function judge(taking, code) {
  const quick = walks.judgeCode(taking.walk, code);
  if (quick !== "look-up") return { verdict: quick };
  try {
    return await judgeFound(await get(`/scan/${code}`), taking);
  } catch (problem) {
    const known = /** @type {any} */ (problem).status === 404;
    return { verdict: known ? "unknown" : "offline", problem };
  }
}

/** @param {any} found */
function placeName(found) {
  if (found.kind === "goblet") return found.address;
  return found.kind === "canister" ? text.canister(found) : found.name;
}

/**
 * The two facts to check it by are the stallion's name and the place.
 * @param {Judged} judged @param {Taking} taking @returns {Said}
 */
export function verdictInWords({ verdict, found, problem }, taking) {
  const step = stepOf(taking);
  const facts = found?.kind === "straw" ? factsOf(found) : [taking.stallion_name, step.address];
  const refuse = (/** @type {string} */ word, /** @type {string} */ why) =>
    /** @type {Said} */ ({ kind: "refused", word, text: why, facts });
  if (verdict === "planned" || verdict === "twin")
    return { kind: "done", text: text[verdict], facts };
  if (verdict === "exchange")
    return { kind: "done", text: text.exchange(stateInWords(found.state)), facts };
  if (verdict === "again" || verdict === "full")
    return { kind: "check", text: text[verdict], facts };
  if (verdict === "wrong-stallion")
    return refuse(text.wrong, text["wrong-stallion"](found, taking.stallion_name));
  if (verdict === "other-batch")
    return refuse(text.batchWord, text["other-batch"](found, step));
  if (verdict === "later") return refuse(text.batchWord, text.later(found));
  if (verdict === "gone") return goneInWords(found, facts);
  if (verdict === "on-hold") return refuse(text.holdWord, text.hold(found.hold_until));
  if (verdict === "elsewhere")
    return { kind: "check", text: text.elsewhere(found.address, step.address), facts };
  if (verdict === "offline") return { kind: "check", text: text.offline(step.batch_code) };
  if (verdict === "unknown") return { kind: "refused", text: problem.message };
  if (verdict === "not-a-straw") return { kind: "refused", text: text.batch };
  return placeInWords(verdict, found, taking);
}

/** @param {any} found @param {(string|null)[]} facts @returns {Said} */
function goneInWords(found, facts) {
  const { last } = found;
  const why = text.gone(stateInWords(found.state), moment(found.since), last?.by ?? "");
  const word = found.state === "lifted" ? text.takenWord : text.goneWord;
  return { kind: "refused", word, text: why, facts };
}

/** @param {string} verdict @param {any} found @param {Taking} taking @returns {Said} */
function placeInWords(verdict, found, taking) {
  const here = stepOf(taking).address;
  const name = placeName(found);
  const kind = /** @type {"goblet"} */ (found.kind);
  if (verdict === "here")
    return { kind: "done", word: text.rightPlace[kind], text: text.rightText(name, here), facts: [name] };
  if (verdict === "next")
    return { kind: "done", word: text.next(name), text: text.nextText, facts: [name] };
  if (verdict === "not-yet")
    return { kind: "check", text: text.notYet(name, walks.unread(taking.walk)), facts: [name] };
  return {
    kind: "refused",
    word: text.wrongPlace[kind],
    text: text.otherPlace(name, here),
    facts: [name],
  };
}
