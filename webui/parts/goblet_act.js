/** What moving and discarding have in common: straws of one batch out of one goblet. */

/** @param {any} goblet @param {string|null} batchId */
export function batchIn(goblet, batchId) {
  return goblet.contents.find((/** @type {any} */ one) => one.batch_id === batchId) ?? null;
}

/**
 * By code where codes were read, else by count.
 * @param {any} values @param {any} goblet @param {any} item
 */
export function strawsNamed(values, goblet, item) {
  if (values.straw_codes?.length) return { straw_codes: values.straw_codes };
  return { picks: [{ goblet_id: goblet.id, batch_id: item.batch_id, straws: values.straws }] };
}
