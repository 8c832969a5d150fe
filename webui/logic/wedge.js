/**
 * Telling a hand-held scanner that acts as a keyboard from a person who types. Pure: keys go in with
 * the time at which they were struck, scans come out.
 *
 * A scanner's keys follow each other within `GAP_MS`; a scan ends with Enter, Tab or silence. What
 * arrived is read by `key` (what the computer makes of it); where the check symbol says no, it is
 * read again by `code` (which key of a US keyboard that was), for a scanner and a computer that are
 * set to different languages. Times are milliseconds of one clock.
 */

import { readCode } from "./codes.js";

/** The longest time between two keys of a scan. Faster than anybody types nine signs in a row. */
export const GAP_MS = 50;
/** After so long without a key a scan is at its end. */
export const SILENCE_MS = 60;
/** Enter, Tab and their like belong to the scan before them for so long. */
export const AFTER_MS = 200;
/** The same code again within this time is the same scan. */
export const SAME_MS = 2000;
/** Fewer keys than that are nobody's scan, not even a broken one. */
export const FEWEST = 6;

/**
 * @typedef {object} Key
 * @property {string} key
 * @property {string} code
 * @property {number} at
 * @property {boolean} [held]    Alt, Control or Meta is held: no sign of a code
 * @property {boolean} [repeat]  the key was kept down
 */
/** @typedef {"enter"|"tab"|"silence"} Ending */
/** @typedef {"key"|"code"|null} Lean  which of the two readings was right the last time they differed */
/**
 * @typedef {{ok: true, code: string, kind: string, rescued: boolean, lean: Lean, arrived: string}} Decoded
 * @typedef {{ok: false, problem: import("./codes.js").Misread["problem"]|"two-ways", arrived: string}} Undecoded
 */
/** @typedef {{keys: Key[], ending: Ending, read: Decoded|Undecoded}} Burst */
/**
 * @typedef {object} Wedge
 * @property {Key[]} keys      signs of the burst that is under way
 * @property {number} last     when its last key was struck, Shift and the like included
 * @property {number} ended    when the last scan ended
 * @property {Lean} lean
 */
/** @typedef {{prefix?: string, field?: "none"|"text"|"scan"|"secret"}} Where  what has the focus */

/** @returns {Wedge} */
export function newWedge() {
  return { keys: [], last: -Infinity, ended: -Infinity, lean: null };
}

/** @type {Record<string, string>} */
const PHYSICAL = Object.fromEntries([
  ...[..."ABCDEFGHIJKLMNOPQRSTUVWXYZ"].map((letter) => [`Key${letter}`, letter]),
  ...[..."0123456789"].flatMap((digit) => [
    [`Digit${digit}`, digit],
    [`Numpad${digit}`, digit],
  ]),
]);

/** @param {Key} key */
function isSign(key) {
  return !key.held && ([...key.key].length === 1 || key.code in PHYSICAL);
}

/** What arrived, as the computer made of it. @param {Key[]} keys */
export function arrivedText(keys) {
  return keys.map((one) => ([...one.key].length === 1 ? one.key : "·")).join("");
}

/** What arrived, by the place of the keys on a US keyboard. @param {Key[]} keys */
export function physicalText(keys) {
  return keys.map((one) => PHYSICAL[one.code] ?? "·").join("");
}

/**
 * What a burst of keys says. Both readings may pass the check and differ (where two letters or more
 * have changed places, about once in thirty); then the one that was right before is taken, and
 * without a before nothing is.
 * @param {Key[]} keys @param {{prefix?: string, lean?: Lean}} [known]
 * @returns {Decoded|Undecoded}
 */
export function decode(keys, { prefix = "", lean = null } = {}) {
  const arrived = arrivedText(keys);
  const skip = prefix && arrived.toLowerCase().startsWith(prefix.toLowerCase()) ? prefix.length : 0;
  const byKey = readCode(arrived.slice(skip));
  const byPlace = readCode(physicalText(keys.slice(skip)));
  if (byKey.ok && byPlace.ok && byKey.code !== byPlace.code) {
    if (!lean) return { ok: false, problem: "two-ways", arrived };
    return { ...(lean === "key" ? byKey : byPlace), rescued: lean === "code", lean, arrived };
  }
  if (byKey.ok) return { ...byKey, rescued: false, lean: byPlace.ok ? lean : "key", arrived };
  if (byPlace.ok) return { ...byPlace, rescued: true, lean: "code", arrived };
  return { ok: false, problem: byKey.problem, arrived };
}

/**
 * @param {Wedge} wedge @param {Ending} ending @param {number} at @param {Where} where
 * @returns {{wedge: Wedge, burst: Burst}}
 */
function finish(wedge, ending, at, { prefix }) {
  const read = decode(wedge.keys, { prefix, lean: wedge.lean });
  const burst = { keys: wedge.keys, ending, read };
  const lean = read.ok ? read.lean : wedge.lean;
  return { wedge: { keys: [], last: at, ended: read.ok ? at : wedge.ended, lean }, burst };
}

/** Whether a burst is to be told: a code, or what can only have been meant as one. @param {Burst} burst */
export function isScan(burst) {
  return burst.read.ok || burst.keys.length >= FEWEST;
}

/**
 * A key was struck. `bursts` are those that it ended, in their order; `swallow` says that the page
 * must not see this key: it is a scanner's, and would press, send, scroll or leave something.
 * @param {Wedge} wedge @param {Key} key @param {Where} [where]
 * @returns {{wedge: Wedge, bursts: Burst[], swallow: boolean}}
 */
export function press(wedge, key, where = {}) {
  const before = rest(wedge, key.at, where, GAP_MS);
  const next = before.wedge;
  const { bursts } = before;
  if (key.repeat) return { wedge: { ...next, keys: [] }, bursts, swallow: false };
  if (isSign(key)) {
    const began = next.keys.length > 0;
    return {
      wedge: { ...next, keys: [...next.keys, key], last: key.at },
      bursts,
      swallow: began && (where.field ?? "none") === "none" && [...key.key].length === 1,
    };
  }
  const afterScan = key.at - next.ended <= AFTER_MS;
  if (key.key === "Enter" || key.key === "Tab") return end(next, bursts, key, where, afterScan);
  const control = Boolean(key.held) && [...key.key].length === 1;
  return {
    wedge: next.keys.length ? { ...next, last: key.at } : next,
    bursts,
    swallow: control && (afterScan || next.keys.length >= FEWEST),
  };
}

/**
 * Enter or Tab: the end of a scan, or somebody's own.
 * @param {Wedge} wedge @param {Burst[]} bursts @param {Key} key @param {Where} where
 * @param {boolean} afterScan
 */
function end(wedge, bursts, key, where, afterScan) {
  if (!wedge.keys.length) {
    // The second half of a CR LF, or an end that comes after the silence.
    return { wedge: afterScan ? { ...wedge, last: key.at } : wedge, bursts, swallow: afterScan };
  }
  const ending = key.key === "Enter" ? /** @type {const} */ ("enter") : /** @type {const} */ ("tab");
  const { wedge: next, burst } = finish(wedge, ending, key.at, where);
  return { wedge: next, bursts: [...bursts, burst], swallow: swallowsEnd(burst, where) };
}

/** @param {Burst} burst @param {Where} where */
function swallowsEnd(burst, { field = "none" }) {
  if (burst.read.ok || burst.read.problem === "two-ways") return true;
  if (burst.keys.length < FEWEST) return false;
  if (field === "none") return true;
  // Another maker's code scanned into a field stays there and sends nothing.
  return field === "text" && burst.ending === "enter";
}

/**
 * Time went by. `after` is how long a silence ends a scan.
 * @param {Wedge} wedge @param {number} now @param {Where} [where] @param {number} [after]
 * @returns {{wedge: Wedge, bursts: Burst[]}}
 */
export function rest(wedge, now, where = {}, after = SILENCE_MS - 1) {
  if (!wedge.keys.length || now - wedge.last <= after) return { wedge, bursts: [] };
  const { wedge: next, burst } = finish(wedge, "silence", wedge.last, where);
  return { wedge: next, bursts: [burst] };
}

/**
 * Whether this code was read a moment ago; `recent` goes on with what still counts.
 * @param {{code: string, at: number}[]} recent @param {string} code @param {number} at
 */
export function alreadyRead(recent, code, at) {
  const still = recent.filter((one) => at - one.at < SAME_MS);
  const again = still.some((one) => one.code === code);
  return { again, recent: [...still.filter((one) => one.code !== code), { code, at }] };
}

/**
 * What the set-up page says of keys that came one after the other.
 * @param {Key[]} keys @param {{prefix?: string}} [known]
 */
export function describe(keys, { prefix = "" } = {}) {
  const signs = keys.filter(isSign);
  const gaps = keys.slice(1).map((one, i) => Math.round(one.at - keys[i].at));
  const last = keys.at(-1);
  const read = decode(signs, { prefix });
  /** @type {Ending} */
  const ending = last?.key === "Enter" ? "enter" : last?.key === "Tab" ? "tab" : "silence";
  const letters = signs.map((one) => one.key).filter((one) => /[a-z]/i.test(one));
  return {
    read,
    ending,
    slowest_ms: gaps.length ? Math.max(...gaps) : 0,
    fast: gaps.length > 0 && gaps.every((gap) => gap <= GAP_MS),
    lower: letters.some((one) => one !== one.toUpperCase()),
    held: keys.some((one) => one.held),
    prefix: prefix ? "" : leadingExtra(signs),
  };
}

/** Signs before a code, where what follows them is one. @param {Key[]} signs */
function leadingExtra(signs) {
  for (let extra = 1; extra <= 4 && signs.length - extra >= 9; extra += 1) {
    if (decode(signs.slice(extra)).ok) return arrivedText(signs.slice(0, extra));
  }
  return "";
}

/** Shift, Caps Lock and the like, pressed on the way to a sign. @param {Key} key */
export function onlyModifier(key) {
  return ["Shift", "CapsLock", "Control", "Alt", "AltGraph", "Meta", "NumLock"].includes(key.key);
}
