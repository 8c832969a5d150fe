/** What stands on a straw, in people's words, and where each is entered when it is missing. */

/** @typedef {{id: string, stallion_id: string, state: string}} Batch */

/** @type {Record<string, {name: string, missing: string, enter: string, at: (batch: Batch) => string}>} */
const MARKS = {
  collected_on: {
    name: "Day of collection",
    missing: "The day of collection is not known.",
    enter: "Prepare the batch with its day, or log its freeze",
    at: (batch) =>
      batch.state === "prepared" ? `/freeze/new?batch=${batch.id}` : `/batches/${batch.id}`,
  },
  species: {
    name: "Species",
    missing: "How the species is written on straws is not set.",
    enter: "Label settings",
    at: () => "/station/labels",
  },
  donor_identity: {
    name: "Identity number of the stallion (UELN or microchip)",
    missing: "The stallion has no identity number.",
    enter: "Enter his UELN or microchip",
    at: (batch) => `/stallions/${batch.stallion_id}/edit`,
  },
  approval_number: {
    name: "Approval number of the place of collection",
    missing: "The approval number of the place of collection is not known.",
    enter: "Enter it for the station",
    at: () => "/station",
  },
  processing_approval_number: {
    name: "Approval number of the processing establishment",
    missing: "The approval number of the processing establishment is not known.",
    enter: "Enter it for the station",
    at: () => "/station",
  },
  breed: {
    name: "Breed",
    missing: "The stallion’s breed is not known.",
    enter: "Enter his breed",
    at: (batch) => `/stallions/${batch.stallion_id}/edit`,
  },
};

/** Those a station may ask for, in the order of a straw. */
export const MARK_NAMES = Object.keys(MARKS);

/** @param {string} mark */
export function markInWords(mark) {
  return MARKS[mark]?.name ?? mark.replaceAll("_", " ");
}

/** @param {string} mark @param {Batch} batch @returns {{what: string, enter: string|null, href: string}} */
export function missingMark(mark, batch) {
  const known = MARKS[mark];
  if (!known) return { what: `${markInWords(mark)} is missing.`, enter: null, href: "" };
  return { what: known.missing, enter: known.enter, href: `#${known.at(batch)}` };
}
