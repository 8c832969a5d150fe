/**
 * Labels on a sheet of A4, in millimetres: rows from the upper left, as the service lays them out.
 * It is the service that decides; this draws the sheet that a person taps.
 */

/** ISO 216:2007. */
export const A4 = { width: 210, height: 297 };
const GAP = 3;

/** @typedef {{columns: number, rows: number, places: number}} Places */

/**
 * @param {{width: number, height: number, margin: number}} label
 * @returns {Places}
 */
export function placesOn({ width, height, margin }) {
  const fit = (/** @type {number} */ paper, /** @type {number} */ size) =>
    Math.max(0, Math.floor((paper - 2 * margin + GAP) / (size + GAP)));
  const [columns, rows] = [fit(A4.width, width), fit(A4.height, height)];
  return { columns, rows, places: columns * rows };
}

/**
 * The upper left corner of a place.
 * @param {{width: number, height: number, margin: number}} label @param {number} place from 1 on
 */
export function cornerOf({ width, height, margin }, place) {
  const { columns } = placesOn({ width, height, margin });
  const [row, column] = [Math.floor((place - 1) / columns), (place - 1) % columns];
  return { x: margin + column * (width + GAP), y: margin + row * (height + GAP) };
}

/** Sheets that so many labels take. @param {Places} on @param {number} start @param {number} labels */
export function sheetsFor(on, start, labels) {
  return on.places ? Math.ceil((start - 1 + labels) / on.places) : 0;
}
