/**
 * Exact fractions on BigInt: doses are never computed with floats, not even for the figures that
 * are only shown while someone types (350 million from 625 M/mL x 0.4 mL x 35 % is 4 straws, not 5).
 */

/** @typedef {{n: bigint, d: bigint}} Rational  n/d in lowest terms, d > 0 */

/** @param {bigint} a @param {bigint} b @returns {bigint} */
function gcd(a, b) {
  return b === 0n ? (a < 0n ? -a : a) : gcd(b, a % b);
}

/** @param {bigint} n @param {bigint} d @returns {Rational} */
export function ratio(n, d) {
  if (d === 0n) throw new RangeError("a fraction needs a denominator other than 0");
  const sign = d < 0n ? -1n : 1n;
  const g = gcd(n, d) || 1n;
  return { n: (sign * n) / g, d: (sign * d) / g };
}

/** @param {string|number} text a canonical decimal such as "0.4" @returns {Rational} */
export function rational(text) {
  const match = /^(-?)(\d+)(?:\.(\d+))?$/.exec(String(text));
  if (!match) throw new RangeError(`not a decimal: ${text}`);
  const [, sign, whole, fraction = ""] = match;
  const size = BigInt(whole + fraction);
  return ratio(sign ? -size : size, 10n ** BigInt(fraction.length));
}

/** @param {...Rational} factors */
export function product(...factors) {
  return factors.reduce((a, b) => ratio(a.n * b.n, a.d * b.d));
}

/** @param {Rational} a @param {Rational} b */
export function quotient(a, b) {
  return ratio(a.n * b.d, a.d * b.n);
}

/** @param {Rational} a */
export function floor(a) {
  const q = a.n / a.d;
  return Number(a.n < 0n && q * a.d !== a.n ? q - 1n : q);
}

/** @param {Rational} a */
export function ceil(a) {
  return -floor({ n: -a.n, d: a.d });
}

/** @param {Rational} a  the nearest float, for showing only */
export function toNumber(a) {
  return Number(a.n) / Number(a.d);
}
