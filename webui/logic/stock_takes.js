/** Stock-takes in people's words: how one stands, what is counted, what a difference is. */

import { plural } from "./numbers.js";

/** @typedef {{goblet_id: string, address: string, tank_id: string, tank_name: string, rounds: number, state: string, counted_by: string|null, counted_at: string|null}} Goblet */

/** @type {Record<string, string>} */
const STATES = {
  counting: "Being counted",
  compared: "Compared",
  closed: "Closed",
};

/** @type {Record<string, {word: string, means: string, kind: "bad"|"warn"|"plain"}>} */
const CLASSES = {
  missing: {
    word: "Missing",
    means: "The book has more here than were counted.",
    kind: "bad",
  },
  surplus: { word: "Too many", means: "More were counted than the book has here.", kind: "warn" },
  "wrong-place": {
    word: "In the wrong place",
    means: "They are there, but in another goblet than the book says.",
    kind: "warn",
  },
  ambiguous: {
    word: "Not clear",
    means: "More than one thing explains it. Look there first.",
    kind: "warn",
  },
  unknown: { word: "Unknown", means: "Nobody can say by the mark what it is.", kind: "warn" },
  disturbed: {
    word: "Disturbed: count again",
    means: "Something was booked here while it was counted, so the count says nothing.",
    kind: "plain",
  },
};

/** Why stock is adjusted, the plain cases first. @type {Record<string, string>} */
export const REASONS = {
  "unrecorded-use": "They were used, and nobody wrote it down",
  "found-elsewhere": "They stand in another goblet",
  "data-entry-error": "Something was typed wrong",
  "label-lost": "Their mark was lost",
  destroyed: "They broke or were spoilt",
  "supplier-short": "Fewer came than the papers said",
  unexplained: "Nobody can explain it",
};

/** @param {string} state */
export function takeStateInWords(state) {
  return STATES[state] ?? state;
}

/** @param {string} kind */
export function classInWords(kind) {
  return CLASSES[kind] ?? { word: kind, means: "", kind: "plain" };
}

/** @param {string} reason */
export function reasonInWords(reason) {
  return REASONS[reason] ?? reason;
}

/**
 * What is counted.
 * @param {any} scope @param {number} goblets how many of them there are
 * @param {(id: string) => string|undefined} [tankName]
 */
export function scopeInWords(scope, goblets, tankName = () => undefined) {
  const many = plural(goblets, "goblet");
  if (scope.sample) return `A random sample of ${many}`;
  if (scope.tank_ids) {
    const names = scope.tank_ids.map(tankName).filter(Boolean);
    const tanks = names.length ? names.join(", ") : plural(scope.tank_ids.length, "tank");
    return `${tanks}: ${many}`;
  }
  if (scope.goblet_ids) return `${many}, chosen one by one`;
  return `The whole bank: ${many}`;
}

/** @param {number} counted @param {number} all */
export function progressInWords(counted, all) {
  return counted === all ? `All ${all} are counted` : `${counted} of ${all} are counted`;
}

/** @param {Goblet[]} goblets */
export function leftToCount(goblets) {
  return goblets.filter((one) => one.state === "to-count");
}

/**
 * By tank, in order of address.
 * @param {Goblet[]} goblets
 * @returns {{id: string, name: string, counted: number, goblets: Goblet[]}[]}
 */
export function byTank(goblets) {
  /** @type {Map<string, {id: string, name: string, counted: number, goblets: Goblet[]}>} */
  const tanks = new Map();
  for (const one of goblets) {
    const tank = tanks.get(one.tank_id) ?? {
      id: one.tank_id,
      name: one.tank_name,
      counted: 0,
      goblets: [],
    };
    tank.goblets.push(one);
    if (one.state === "counted") tank.counted += 1;
    tanks.set(one.tank_id, tank);
  }
  return [...tanks.values()];
}

/**
 * The goblet to count after this one: the next in order that nobody has counted, else the first.
 * @param {Goblet[]} goblets @param {string} [after] a goblet's id
 * @returns {Goblet|null}
 */
export function nextGoblet(goblets, after) {
  const at = goblets.findIndex((one) => one.goblet_id === after);
  const order = [...goblets.slice(at + 1), ...goblets.slice(0, at + 1)];
  return order.find((one) => one.state === "to-count" && one.goblet_id !== after) ?? null;
}

/** "2 too few", "1 too many". @param {number} difference counted less expected */
export function differenceInWords(difference) {
  if (!difference) return "as booked";
  return difference < 0 ? `${-difference} too few` : `${difference} too many`;
}

/** @param {number} difference */
export function signed(difference) {
  return difference > 0 ? `+${difference}` : difference < 0 ? `\u2212${-difference}` : "0";
}

/**
 * Differences by goblet, in order of address.
 * @param {any[]} differences
 * @returns {{goblet_id: string, address: string, differences: any[]}[]}
 */
export function byGoblet(differences) {
  /** @type {Map<string, {goblet_id: string, address: string, differences: any[]}>} */
  const found = new Map();
  for (const one of differences) {
    const group = found.get(one.goblet_id) ?? {
      goblet_id: one.goblet_id,
      address: one.address,
      differences: [],
    };
    group.differences.push(one);
    found.set(one.goblet_id, group);
  }
  return [...found.values()];
}

/** How many differences there are of each class, in words. @param {any[]} differences */
export function classesInWords(differences) {
  return Object.entries(CLASSES)
    .map(([kind, { word }]) => [
      word.toLowerCase(),
      differences.filter((one) => one.class === kind).length,
    ])
    .filter(([, count]) => count)
    .map(([word, count]) => `${word}: ${count}`)
    .join(", ");
}

/** Whether an adjustment can end it. @param {any} difference */
export function canPropose(difference) {
  return difference.batch_id !== null && difference.class !== "disturbed" && difference.open !== 0;
}

/** Whether it keeps a stock-take from being closed without a note. @param {any} difference */
export function isOpen(difference) {
  return difference.open !== 0 || difference.batch_id === null || difference.class === "disturbed";
}

/**
 * The one-tap proposal: the straws are moved to where they were seen. Null where the book has
 * already been adjusted for a part of it, or the comparison named no other goblet.
 * @param {any} difference
 * @returns {{goblet_id: string, batch_id: string, other_goblet_id: string, difference: number}|null}
 */
export function moveOf(difference) {
  const { move, open } = difference;
  if (!move || !canPropose(difference)) return null;
  const from = move.from_goblet_id === difference.goblet_id;
  const straws = Math.min(move.straws, Math.abs(open));
  return {
    goblet_id: difference.goblet_id,
    batch_id: difference.batch_id,
    other_goblet_id: from ? move.to_goblet_id : move.from_goblet_id,
    difference: from ? -straws : straws,
  };
}

/** What a proposal does to the book. @param {any} one @param {string} other the other goblet's address */
export function adjustmentInWords(one, other) {
  const straws = plural(Math.abs(one.difference), "straw");
  if (one.other_goblet_id)
    return one.difference < 0
      ? `${straws} move from ${one.address} to ${other}`
      : `${straws} move from ${other} to ${one.address}`;
  return one.difference < 0
    ? `${straws} of ${one.address} go to “missing”`
    : `${straws} are added in ${one.address}`;
}

/**
 * How many goblets a sample takes at least: the fewest that miss all of the wrong ones with a chance of
 * at most 1 - confidence. The service draws by tank, and may take a few more.
 * @param {number} population @param {number} detectPercent @param {number} confidencePercent
 * @returns {number}
 */
export function aboutSample(population, detectPercent, confidencePercent) {
  const wrong = Math.min(population, Math.max(1, Math.ceil((population * detectPercent) / 100 - 1e-9)));
  const missed = 1 - confidencePercent / 100 + 1e-12;
  let chance = 1;
  for (let drawn = 1; drawn <= population; drawn += 1) {
    chance *= Math.max(0, population - wrong - drawn + 1) / (population - drawn + 1);
    if (chance <= missed) return drawn;
  }
  return population;
}
