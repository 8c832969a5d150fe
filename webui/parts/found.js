/** What a looked-up code is: its page, and the two facts by which a person checks it. */

import { moment } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { stateInWords } from "../logic/words.js";

const text = {
  kind: {
    straw: "A straw.",
    batch: "A batch.",
    goblet: "A goblet.",
    canister: "A canister.",
    tank: "A tank.",
  },
  hold: "On hold.",
  state: (/** @type {string} */ state, /** @type {string} */ since) =>
    `The book has it as ${state}, since ${since}.`,
  canister: (/** @type {any} */ one) => `Canister ${one.number}`,
};

/** @type {Record<string, (one: any) => string>} */
const PAGES = {
  straw: (one) => `#/straws/${one.code}`,
  batch: (one) => `#/batches/${one.id}`,
  goblet: (one) => `#/bank/goblet/${one.id}`,
  canister: (one) => `#/bank/canister/${one.id}`,
  tank: (one) => `#/bank/tank/${one.id}`,
};

/** @param {any} found */
export function pageOf(found) {
  return PAGES[found.kind](found);
}

/** @type {Record<string, (one: any) => (string|null)[]>} */
const FACTS = {
  straw: (one) => [one.stallion_name, one.address ?? stateInWords(one.state)],
  batch: (one) => [one.stallion_name, plural(one.straws, "straw")],
  goblet: (one) => [one.address, plural(one.straws, "straw")],
  canister: (one) => [text.canister(one), one.tank_name],
  tank: (one) => [one.name, plural(one.straws, "straw")],
};

/** Name and place, or what comes nearest. @param {any} found */
export function factsOf(found) {
  return FACTS[found.kind](found);
}

/** A straw that is not in the bank, or may not leave it, is something to look at. @param {any} found @returns {import("./said.js").Said} */
export function foundInWords(found) {
  const gone = found.kind === "straw" && found.state !== "stored";
  const words = [
    text.kind[/** @type {"straw"} */ (found.kind)],
    gone && text.state(stateInWords(found.state), moment(found.since)),
    found.on_hold && text.hold,
  ].filter(Boolean);
  return {
    kind: gone || found.on_hold ? "check" : "done",
    word: gone || found.on_hold ? undefined : "Found",
    code: found.code,
    facts: factsOf(found),
    text: words.join(" "),
  };
}
