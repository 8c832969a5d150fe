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
 * @property {string} [post_thaw_percent]
 */

/** An amount as a fraction; null where it is missing or nothing. @param {string|undefined} text */
function positive(text) {
  return text !== undefined && Number(text) > 0 ? rational(text) : null;
}

/**
 * What a collection holds and how many straws it fills; a figure whose inputs are missing is null.
 * Straws are floored: a straw that cannot be filled is not made.
 * @param {FreezeTyped} typed
 * @param {DoseRule|null} [rule]
 */
export function freezeFigures(typed, rule = null) {
  const [volume, density] = [
    positive(typed.volume_ml),
    positive(typed.concentration_million_per_ml),
  ];
  const total = volume && density ? product(volume, density) : null;
  const motility = typed.progressive_motility_percent;
  const progressive =
    total && motility !== undefined ? product(total, rational(motility), PERCENT) : null;
  const [strawMl, strawDensity] = [
    positive(typed.straw_volume_ml),
    positive(typed.straw_million_per_ml),
  ];
  let straws = null;
  let filled = null;
  if (total && strawMl && strawDensity) {
    const recovered = product(total, rational(typed.recovery_percent ?? "100"), PERCENT);
    straws = floor(quotient(recovered, product(strawMl, strawDensity)));
    filled = toNumber(product(rational(straws), strawMl));
  }
  return {
    total_million: total && toNumber(total),
    progressive_million: progressive && toNumber(progressive),
    straws_possible: straws,
    volume_ml: filled,
    ...doseFigures(typed, rule),
  };
}

/** @param {FreezeTyped} typed @param {DoseRule|null} rule */
function doseFigures(typed, rule) {
  const { straw_volume_ml, straw_million_per_ml, post_thaw_percent } = typed;
  const tested = positive(straw_volume_ml) && positive(straw_million_per_ml) && post_thaw_percent;
  const perStraw = tested
    ? progressivePerStraw({
        million_per_ml: String(straw_million_per_ml),
        volume_ml: String(straw_volume_ml),
        motility_percent: String(post_thaw_percent),
      })
    : null;
  return {
    progressive_million_per_straw: perStraw && toNumber(perStraw),
    straws_per_dose: strawsPerDose(rule, perStraw, post_thaw_percent),
  };
}

/**
 * Null while it cannot be said: no rule, or a rule by sperm without a result that reaches its
 * minimum.
 * @param {DoseRule|null} rule @param {{n: bigint, d: bigint}|null} perStraw
 * @param {string|undefined} postThaw
 */
function strawsPerDose(rule, perStraw, postThaw) {
  if (rule?.kind === "straws") return rule.straws;
  if (rule?.kind !== "sperm" || !perStraw) return null;
  if (Number(postThaw) < Number(rule.minimum_post_thaw_percent ?? 0)) return null;
  return strawsForTarget(String(rule.progressive_million), perStraw);
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
    : `${target}, at least ${minimum}\u00a0% progressive after thawing`;
}

/** The same, short enough for a list. @param {DoseRule|null|undefined} rule */
export function ruleInShort(rule) {
  return rule?.kind === "sperm"
    ? `${rule.progressive_million} million motile a dose`
    : ruleInWords(rule);
}
