/** What moving and discarding have in common: straws of one batch out of one goblet. */

/** @param {any} goblet @param {string|null} batchId */
export function batchIn(goblet, batchId) {
  return goblet.contents.find((/** @type {any} */ one) => one.batch_id === batchId) ?? null;
}

/**
 * The request: which straws, by code where codes were read, else by count, and the form's rest.
 * @param {any} values @param {any} goblet @param {any} item
 */
export function strawsNamed({ straws, straw_codes, ...rest }, goblet, item) {
  if (straw_codes?.length) return { straw_codes, ...rest };
  return { picks: [{ goblet_id: goblet.id, batch_id: item.batch_id, straws }], ...rest };
}
