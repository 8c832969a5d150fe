/**
 * The arithmetic of a freeze and of a dose, shown while someone types. The service decides; this
 * only saves the wait. Amounts are canonical decimal strings, units are in the names.
 */

import { ceil, floor, product, quotient, rational, toNumber } from "./rational.js";

const PERCENT = rational("0.01");

/**
 * @typedef {object} FreezeTyped
 * @property {string} [volume_ml]
 * @property {string} [concentration_million_per_ml]
 * @property {string} [progressive_motility_percent]
 * @property {string} [straw_volume_ml]
 * @property {string} [straw_million_per_ml]
 * @property {string} [recovery_percent]
 */

/** @param {string|undefined} text */
function positive(text) {
  return text !== undefined && Number(text) > 0;
}

/**
 * What a collection holds and how many straws it fills; a figure whose inputs are missing is null.
 * Straws are floored: a straw that cannot be filled is not made.
 * @param {FreezeTyped} typed
 */
export function freezeFigures(typed) {
  const hasSperm = positive(typed.volume_ml) && positive(typed.concentration_million_per_ml);
  const total = hasSperm
    ? product(rational(typed.volume_ml), rational(typed.concentration_million_per_ml))
    : null;
  const motility = typed.progressive_motility_percent;
  const progressive = total && motility !== undefined
    ? product(total, rational(motility), PERCENT)
    : null;
  const hasStraw = positive(typed.straw_volume_ml) && positive(typed.straw_million_per_ml);
  let strawsPossible = null;
  if (total && hasStraw) {
    const recovered = product(total, rational(typed.recovery_percent ?? "100"), PERCENT);
    const load = product(rational(typed.straw_volume_ml), rational(typed.straw_million_per_ml));
    strawsPossible = floor(quotient(recovered, load));
  }
  return {
    total_million: total && toNumber(total),
    progressive_million: progressive && toNumber(progressive),
    straws_possible: strawsPossible,
    volume_ml: strawsPossible === null
      ? null
      : toNumber(product(rational(strawsPossible), rational(typed.straw_volume_ml))),
  };
}

/**
 * Progressively motile sperm in one thawed straw, in millions, as an exact fraction.
 * @param {{million_per_ml: string, volume_ml: string, motility_percent: string}} straw
 */
export function progressivePerStraw(straw) {
  return product(
    rational(straw.million_per_ml),
    rational(straw.volume_ml),
    rational(straw.motility_percent),
    PERCENT,
  );
}

/**
 * The straws of one dose that reaches a target of progressively motile sperm: what is needed is
 * rounded up.
 * @param {string} targetMillion
 * @param {{n: bigint, d: bigint}} perStraw
 * @returns {number|null} null when a straw holds none
 */
export function strawsForTarget(targetMillion, perStraw) {
  return perStraw.n > 0n ? ceil(quotient(rational(targetMillion), perStraw)) : null;
}

/** @param {number} straws @param {number} perDose */
export function wholeDoses(straws, perDose) {
  return perDose > 0 ? Math.floor(straws / perDose) : 0;
}

/** @typedef {{kind: "straws", straws: number}
 *   | {kind: "sperm", progressive_million: number|string, minimum_post_thaw_percent?: number|string}
 *  } DoseRule */

/**
 * A dose rule in words.
 * @param {DoseRule|null|undefined} rule
 */
export function ruleInWords(rule) {
  if (!rule) return "no dose rule yet";
  if (rule.kind === "straws") {
    return `${rule.straws} ${rule.straws === 1 ? "straw" : "straws"} a dose`;
  }
  const minimum = rule.minimum_post_thaw_percent;
  const target = `${rule.progressive_million} million progressively motile sperm a dose`;
  return minimum === null || minimum === undefined
    ? target
    : `${target}, at least ${minimum} % progressive after thawing`;
}
