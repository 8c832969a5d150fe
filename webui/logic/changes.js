/**
 * Two people changed one record: what each did, told apart field by field, so that nobody's work is
 * overwritten unseen.
 */

/**
 * A number as the service sends it and the same number as it was typed are the same: 250 and "250.0".
 * @param {any} a @param {any} b
 * @returns {boolean}
 */
export function same(a, b) {
  const [left, right] = [a ?? null, b ?? null];
  if (left === null || right === null) return left === right;
  if (typeof left === "number" || typeof right === "number") return Number(left) === Number(right);
  if (typeof left !== "object" || typeof right !== "object") return left === right;
  const names = new Set([...Object.keys(left), ...Object.keys(right)]);
  return [...names].every((name) => same(left[name], right[name]));
}

/**
 * Only the fields of `mine` that differ from `base`.
 * @param {Record<string, unknown>} base @param {Record<string, unknown>} mine
 */
export function changedFields(base, mine) {
  return Object.fromEntries(
    Object.entries(mine).filter(([name, value]) => !same(base[name], value)),
  );
}

/**
 * Fields that the other person changed since `base` was read.
 * @param {Record<string, unknown>} base
 * @param {Record<string, unknown>} theirs
 * @param {Record<string, unknown>} mine the whole form as typed
 * @returns {{field: string, was: unknown, theirs: unknown, mine: unknown, clash: boolean}[]}
 */
export function otherChanges(base, theirs, mine) {
  return Object.keys(mine)
    .filter((field) => !same(base[field], theirs[field]))
    .map((field) => ({
      field,
      was: base[field],
      theirs: theirs[field],
      mine: mine[field],
      clash: !same(base[field], mine[field]) && !same(theirs[field], mine[field]),
    }));
}
