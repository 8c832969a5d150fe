/**
 * Two people changed one record: what each did, told apart field by field, so that nobody's work is
 * overwritten unseen.
 */

/** @param {unknown} a @param {unknown} b */
function same(a, b) {
  return JSON.stringify(a ?? null) === JSON.stringify(b ?? null);
}

/**
 * Only the fields of `mine` that differ from `base`.
 * @param {Record<string, unknown>} base @param {Record<string, unknown>} mine
 */
export function changedFields(base, mine) {
  return Object.fromEntries(Object.entries(mine).filter(([name, value]) => !same(base[name], value)));
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
