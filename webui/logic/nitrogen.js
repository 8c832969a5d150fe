/** How a tank stands, in words; and scales for pictures. Pure. */

/** @typedef {"steady"|"rising"|"failing"|"unknown"} State */

/** @type {Record<State, {word: string, sign: string, kind: "good"|"warn"|"bad"|"plain"}>} */
export const STATES = {
  failing: { word: "Failing", sign: "!!", kind: "bad" },
  rising: { word: "Loses more than before", sign: "!", kind: "warn" },
  steady: { word: "Steady", sign: "✓", kind: "good" },
  unknown: { word: "Not known yet", sign: "?", kind: "plain" },
};

/** What somebody does about it, in order; safety first. @type {Partial<Record<State, string[]>>} */
export const WHAT_TO_DO = {
  failing: [
    "Never go in alone, nor while an oxygen alarm sounds. Tell somebody now that this tank is dying.",
    "Look at neck and shell from the door: frost, sweat, a hissing. Measure the level again.",
    "Have a cold, filled tank ready and move all canisters into it today. “Hang it elsewhere” on each canister books it.",
    "Until it is empty: measure every hour and top up. Do not rely on the forecast; a lost vacuum empties a tank within hours.",
    "Then take it out of use, and ring its maker. Your local rules come before this list.",
  ],
  rising: [
    "Not alone, and not while an oxygen alarm sounds: tell somebody where you go.",
    "Measure again now, and once more in a few hours. Read twice at each visit.",
    "Look at neck and shell: frost, sweat, a hissing. Book what you see with the level: it counts before any figure.",
    "Is the plug in, and whole? Was the lid open more often than usual?",
    "Measure daily until it is clear, and have room for its canisters elsewhere. If it goes on, ring its maker.",
  ],
};

/**
 * Round figures for an axis from 0 to at least `most`.
 * @param {number} most @param {number} [steps]
 */
export function ticks(most, steps = 4) {
  const rough = Math.max(most, 1e-6) / steps;
  const size = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 2.5, 5, 10].map((one) => one * size).find((one) => one >= rough) ?? rough;
  const count = Math.ceil(most / step - 1e-9);
  return Array.from({ length: count + 1 }, (_, i) => Number((i * step).toPrecision(12)));
}

/**
 * A line from one span of figures to another.
 * @param {[number, number]} from @param {[number, number]} to
 */
export function scale([a, b], [c, d]) {
  const factor = b === a ? 0 : (d - c) / (b - a);
  return (/** @type {number} */ value) => Math.round((c + (value - a) * factor) * 100) / 100;
}

const MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");
const DAY = 864e5;

/**
 * What stands below a picture of a span of time: days where it is short, else the first of each
 * month (of every so many months).
 * @param {number} from @param {number} to
 * @returns {{at: number, name: string}[]}
 */
export function dates(from, to) {
  return to - from < 75 * DAY ? days(from, to) : months(from, to);
}

/** @param {number} from @param {number} to */
function days(from, to) {
  const every = [1, 2, 7, 14].find((one) => (to - from) / (one * DAY) <= 6) ?? 14;
  const found = [];
  for (let at = Math.ceil(from / DAY) * DAY; at <= to; at += every * DAY) {
    const day = new Date(at);
    found.push({ at, name: `${day.getUTCDate()} ${MONTHS[day.getUTCMonth()]}` });
  }
  return found;
}

/** @param {number} from @param {number} to */
function months(from, to) {
  const span = (to - from) / (30.5 * DAY);
  const every = [1, 2, 3, 6, 12].find((one) => span / one <= 7) ?? 12;
  const first = new Date(from);
  const found = [];
  let at = Date.UTC(first.getUTCFullYear(), first.getUTCMonth() + 1, 1);
  while (at <= to) {
    const day = new Date(at);
    const month = day.getUTCMonth();
    const year = month ? "" : ` ${day.getUTCFullYear()}`;
    if (month % every === 0) found.push({ at, name: `${MONTHS[month]}${year}` });
    at = Date.UTC(day.getUTCFullYear(), month + 1, 1);
  }
  return found;
}

/**
 * Where a tank's pictures begin: at the first of what was entered, with two weeks at least.
 * @param {{since: string, as_of: string, readings: {at: string}[], top_ups: {at: string}[]}} history
 */
export function beginning({ since, as_of, readings, top_ups }) {
  const entered = [...readings, ...top_ups].map((one) => Date.parse(one.at));
  const first = Math.min(Date.parse(as_of) - 14 * DAY, ...entered);
  return Math.max(Date.parse(since), first);
}
