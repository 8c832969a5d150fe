/** The book's own words, as people say them. */

/** @type {Record<string, string>} */
const STATES = {
  made: "made",
  prepared: "prepared, not filled yet",
  void: "void, never filled",
  stored: "in the bank",
  lifted: "out of the tank",
  used: "used",
  tested: "thawed for a test",
  discarded: "discarded",
  dispatched: "dispatched",
  missing: "missing",
};

/** @type {Record<string, string>} */
const KINDS = {
  prepare: "Codes made",
  freeze: "Frozen",
  move: "Moved",
  discard: "Discarded",
  withdraw: "Taken out for a dose",
  use: "Insemination",
  return: "Put back",
  test: "Thawed for a test",
  health: "Health test recorded",
  hold: "Put on hold",
  release: "Released",
  exchange: "Exchanged with a twin",
  identify: "Code read",
  doubt: "Which twin it is, is open",
  correct: "Taken back by a correction",
  receive: "Came in",
  dispatch: "Dispatched",
  seal: "Seal put on",
  lose: "Lost",
  relocate: "Hung elsewhere, with its goblet",
  owner: "Another owner",
  promise: "Doses promised",
  "promise-end": "Promise ended",
  print: "Labels printed",
  "stock-take": "Stock-take opened",
  recount: "To be counted again",
  adjust: "Adjusted after a stock-take",
  review: "Signed by the auditor",
  "stock-take-report": "Stock-take closed, with its report",
};

/** @param {string} state */
export function stateInWords(state) {
  return STATES[state] ?? state;
}

/** @param {string} kind */
export function kindInWords(kind) {
  return KINDS[kind] ?? kind.replaceAll(/[-_]/g, " ").replace(/^./, (one) => one.toUpperCase());
}

/** Where a line of the book begins or ends: a state in words, or an address as it is. @param {string} place */
export function placeInWords(place) {
  return STATES[place] ?? place;
}

/** @type {Record<string, string>} */
const WITHDRAWALS = {
  lifted: "straws still out",
  inseminated: "inseminated",
  returned: "put back",
  discarded: "discarded",
  lost: "lost",
};

/** What became of a withdrawal. @param {string} state */
export function withdrawalInWords(state) {
  return WITHDRAWALS[state] ?? state;
}
