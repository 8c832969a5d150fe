/**
 * Reading a code as it was typed or scanned, before the service is asked: one letter for its kind,
 * seven symbols, one check symbol, all in Crockford's base 32 (no I, L, O, U). The check is a
 * weighted sum over GF(32), as on the service: one wrong symbol or two swapped never pass.
 */

const ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const LENGTH = 9;
const FIELD_POLYNOMIAL = 0b100101; // x^5 + x^2 + 1

/** @type {Record<string, string>} */
const KINDS = { S: "straw", B: "batch", G: "goblet", C: "canister", T: "tank" };

/** @typedef {{ok: true, code: string, kind: string}} Read */
/** @typedef {{ok: false, problem: "empty"|"strange-sign"|"wrong-length"|"wrong-kind"|"misread"}} Misread */

/** @param {number} element  times x in GF(32) */
function timesGenerator(element) {
  const doubled = element << 1;
  return doubled & 0b100000 ? doubled ^ FIELD_POLYNOMIAL : doubled;
}

/** @param {string} payload the symbols before the check */
export function checkSymbol(payload) {
  let total = 0;
  for (const symbol of payload) total = timesGenerator(total ^ ALPHABET.indexOf(symbol));
  return ALPHABET[total];
}

/**
 * Any case, spaces and hyphens; i and l are read as 1, o as 0.
 * @param {string} typed
 * @returns {Read|Misread}
 */
export function readCode(typed) {
  const bare = typed.replace(/[\s\-\u2010-\u2014\u2212]/g, "");
  if (!bare) return { ok: false, problem: "empty" };
  const symbols = bare
    .replace(/[il]/gi, "1")
    .replace(/o/gi, "0")
    .replace(/[a-z]/g, (one) => one.toUpperCase());
  for (const symbol of symbols) {
    if (!ALPHABET.includes(symbol)) return { ok: false, problem: "strange-sign" };
  }
  if (symbols.length !== LENGTH) return { ok: false, problem: "wrong-length" };
  const kind = KINDS[symbols[0]];
  if (!kind) return { ok: false, problem: "wrong-kind" };
  if (checkSymbol(symbols.slice(0, -1)) !== symbols.at(-1))
    return { ok: false, problem: "misread" };
  return { ok: true, code: symbols, kind };
}

/** Whether what was typed is meant as a code rather than as a name. @param {string} typed */
export function looksLikeCode(typed) {
  const bare = typed.replace(/[\s-]/g, "");
  return (
    bare.length === LENGTH && /^[SBGCT]/i.test(bare) && /\d/.test(bare) && /^[0-9a-z]+$/i.test(bare)
  );
}

/** `S12345678` is shown as `S12 345 678`. @param {string} code */
export function groupedCode(code) {
  return code.replace(/(.{3})(?=.)/g, "$1 ");
}

/** What a code is for, as people say it. @param {string} kind */
export function aKind(kind) {
  return `a ${kind}`;
}

/** "That is a goblet, not a straw." @param {string} kind what arrived @param {string[]} wanted */
export function otherKindInWords(kind, wanted) {
  return `That is ${aKind(kind)}, not ${wanted.map(aKind).join(" or ")}.`;
}

/**
 * What was typed so far in the groups in which it is printed; null where it is not (only) the
 * beginning of a code, and so is left as it stands.
 * @param {string} typed
 */
export function groupedAsTyped(typed) {
  const bare = typed.replace(/[\s-]/g, "");
  if (!bare || bare.length > LENGTH || !/^[0-9a-z]+$/i.test(bare) || !/^[SBGCT]/i.test(bare))
    return null;
  return groupedCode(bare);
}

/**
 * What the check says of what stands in the field, as soon as its nine signs are there; null before.
 * @param {string} typed @returns {Read|Misread|null}
 */
export function readOnTheSpot(typed) {
  const bare = typed.replace(/[\s\-]/g, "");
  return bare.length === LENGTH ? readCode(bare) : null;
}

/** What to tell the person about a code that could not be read. @param {Misread} misread */
export function misreadInWords({ problem }) {
  return {
    empty: "Nothing arrived. Scan again, or type the nine signs beside the symbol.",
    "strange-sign":
      "There is a sign in it that codes never have. Scan again, or type the nine signs.",
    "wrong-length": "A code has nine signs. Scan again, or type them all.",
    "wrong-kind": "No code begins like this. Scan again, or type the nine signs.",
    misread: "One sign is wrong or two are swapped. Scan again, or compare with the straw.",
  }[problem];
}
