/**
 * Numbers as people type and read them: decimal comma or point in, one unambiguous form out.
 *
 * A typed amount becomes a canonical decimal string ("1234.5"), never a float, so that what is sent
 * to the service is exactly what was typed. "1.234" can mean two things and is asked back.
 */

/** @typedef {{ok: true, text: string}} Read */
/** @typedef {{ok: false, problem: "empty"|"not-a-number"|"ambiguous", readings?: string[]}} Unread */

const SPACES = /[\s\u00a0\u2009\u202f]/g;
const NARROW_SPACE = "\u202f";

/** @param {string} whole @param {string} fraction */
function canonical(whole, fraction) {
  const stripped = whole.replace(/^0+(?=\d)/, "") || "0";
  return fraction ? `${stripped}.${fraction}` : stripped;
}

/** @param {string} text @param {string} mark */
function isGrouped(text, mark) {
  const [first, ...rest] = text.split(mark);
  return /^[1-9]\d{0,2}$/.test(first) && rest.every((part) => /^\d{3}$/.test(part));
}

/** @param {string} text @param {string} point @param {string} grouping @returns {Read|Unread} */
function readMixed(text, point, grouping) {
  const [whole, fraction, ...more] = text.split(point);
  if (more.length || !/^\d+$/.test(fraction) || !isGrouped(whole, grouping)) {
    return { ok: false, problem: "not-a-number" };
  }
  return { ok: true, text: canonical(whole.replaceAll(grouping, ""), fraction) };
}

/** @param {string} text @param {string} mark @returns {Read|Unread} */
function readOneMark(text, mark) {
  const parts = text.split(mark);
  const joined = parts.join("");
  if (!/^\d+$/.test(joined)) return { ok: false, problem: "not-a-number" };
  if (parts.length > 2) {
    return isGrouped(text, mark)
      ? { ok: true, text: canonical(joined, "") }
      : { ok: false, problem: "not-a-number" };
  }
  const [whole, fraction] = parts;
  if (isGrouped(text, mark)) {
    const readings = [canonical(whole, fraction), canonical(joined, "")];
    return { ok: false, problem: "ambiguous", readings };
  }
  return { ok: true, text: canonical(whole, fraction) };
}

/**
 * Read a typed amount.
 * @param {string} typed
 * @returns {Read|Unread}
 */
export function readDecimal(typed) {
  let text = typed
    .normalize("NFKC")
    .replace(SPACES, "")
    .replace(/\u2212/g, "-");
  if (!text) return { ok: false, problem: "empty" };
  const minus = text.startsWith("-") ? "-" : "";
  text = text.replace(/^[-+]/, "");
  const read = readUnsigned(text);
  if (read.ok) return { ok: true, text: minus + read.text };
  if (read.readings) return { ...read, readings: read.readings.map((one) => minus + one) };
  return read;
}

/** @param {string} text @returns {Read|Unread} */
function readUnsigned(text) {
  const comma = text.lastIndexOf(",");
  const point = text.lastIndexOf(".");
  if (comma >= 0 && point >= 0) {
    return comma > point ? readMixed(text, ",", ".") : readMixed(text, ".", ",");
  }
  if (comma >= 0) return readOneMark(text, ",");
  if (point >= 0) return readOneMark(text, ".");
  if (!/^\d+$/.test(text)) return { ok: false, problem: "not-a-number" };
  return { ok: true, text: canonical(text, "") };
}

/** @param {string} text a canonical decimal */
export function isWhole(text) {
  return /^-?\d+(\.0*)?$/.test(text);
}

/** @param {string} digits */
function grouped(digits) {
  return digits.replace(/\B(?=(\d{3})+$)/g, NARROW_SPACE);
}

/**
 * A number for reading: point for decimals, a narrow space between thousands (a comma or point
 * there could be taken for a decimal mark), trailing zeros dropped.
 * @param {number|string|null|undefined} value
 * @param {{decimals?: number, down?: boolean}} [options] `down` never rounds up: a dose that misses
 *   its rule by a hair must not read as if it met it.
 */
export function showNumber(value, { decimals = 2, down = false } = {}) {
  if (value === null || value === undefined || value === "") return "–";
  const number = Number(value);
  if (!Number.isFinite(number)) return String(value);
  const scale = 10 ** decimals;
  const nudge = Math.abs(number) * 1e-12;
  const rounded = down ? Math.floor(number * scale + nudge * scale) / scale : number;
  const [whole, fraction = ""] = Math.abs(rounded).toFixed(decimals).split(".");
  const kept = fraction.replace(/0+$/, "");
  const sign = rounded < 0 && (Number(whole) || kept) ? "\u2212" : "";
  return sign + grouped(whole) + (kept ? `.${kept}` : "");
}

/** @param {number} count @param {string} one @param {string} [many] */
export function plural(count, one, many = `${one}s`) {
  return `${showNumber(count)} ${count === 1 ? one : many}`;
}
