/** The tables of the reading room: what each is for, and its columns in plain words. */

/** @typedef {"text"|"moment"|"number"|"percent"|"entry"|"kind"|"reason"|"codes"|"person"|"record"|"field"|"long"} Kind */

/** @type {Record<string, {title: string, about: string, asOf: string}>} */
export const TABLES = {
  stock: {
    title: "What stood where",
    about: "Straws by goblet and batch, on any day.",
    asOf: "As it stood on",
  },
  corrections: {
    title: "Taken back",
    about: "Entries that were taken back, and why.",
    asOf: "As it was known on",
  },
  overrides: {
    title: "Outside of the dose rule",
    about: "Doses that were not by the rule, and last doses that were released.",
    asOf: "As it was known on",
  },
  exchanges: {
    title: "Twins that changed places",
    about: "A scan showed that the hand took another straw of the batch than the book.",
    asOf: "As it was known on",
  },
  "late-entries": {
    title: "Written down late",
    about: "Entries that were written more than a day after it happened.",
    asOf: "As it was known on",
  },
  adjustments: {
    title: "Adjusted after a stock-take",
    about: "What was added or taken off after counting, and who proposed it.",
    asOf: "As it was known on",
  },
  "record-changes": {
    title: "Records changed",
    about: "Stallions, tanks, settings: each field, old and new.",
    asOf: "As it was known on",
  },
  goblets: {
    title: "When each goblet was counted",
    about: "The longest ago first; those never counted before all.",
    asOf: "Days reckoned to",
  },
  accuracy: {
    title: "How often book and tanks agreed",
    about: "Of each closed stock-take, before anything was adjusted.",
    asOf: "As it was known on",
  },
};

/** @type {Record<string, [string, Kind]>} */
const COLUMNS = {
  address: ["Goblet", "text"],
  stallion: ["Stallion", "text"],
  batch: ["Batch", "text"],
  straws: ["Straws", "number"],
  entry: ["Entry", "entry"],
  kind: ["What", "kind"],
  occurred_at: ["Happened", "moment"],
  recorded_at: ["Written down", "moment"],
  by: ["By", "person"],
  corrects_entry: ["Takes back entry", "entry"],
  corrects_kind: ["Which was", "kind"],
  reason: ["Reason", "text"],
  doses: ["Doses", "number"],
  override_reason: ["Why not by the rule", "text"],
  release_reserve: ["Why the last doses were released", "text"],
  hours_late: ["Hours late", "number"],
  reason_code: ["Why", "reason"],
  proposed_by: ["Proposed by", "person"],
  note: ["Note", "text"],
  changed_at: ["Changed", "moment"],
  record: ["Record", "record"],
  name: ["Name", "text"],
  field: ["Field", "field"],
  before: ["Before", "long"],
  after: ["After", "long"],
  tank: ["Tank", "text"],
  counted_at: ["Counted last", "moment"],
  days_ago: ["Days ago", "number"],
  closed_at: ["Closed", "moment"],
  opened_by: ["Opened by", "person"],
  goblets: ["Goblets", "number"],
  goblets_agreed: ["Of them right", "number"],
  location_percent: ["Goblets right", "percent"],
  straws_expected: ["Straws in the book", "number"],
  straws_astray: ["Straws too many or too few", "number"],
  straw_percent: ["Straws right", "percent"],
};

/**
 * What a column is called and how it is read.
 * @param {string} table @param {string} column @returns {{title: string, kind: Kind}}
 */
export function columnOf(table, column) {
  if (table === "exchanges" && column === "straws") return { title: "Straws", kind: "codes" };
  const [title, kind] = COLUMNS[column] ?? [plain(column), "text"];
  return { title, kind };
}

/** "round-plan" and "low_stock_doses" as words. @param {string} name */
export function plain(name) {
  return name.replaceAll(/[-_]/g, " ").replace(/^./, (one) => one.toUpperCase());
}

/** Codes printed in groups, taken apart again: nine signs each. @param {string} text @returns {string[]} */
export function codesIn(text) {
  return text.replaceAll(/\s/g, "").match(/.{9}/g) ?? [];
}

/**
 * The end of a day on the station's clocks, up to now: "as of the 3rd" has all of the 3rd in it.
 * @param {string} nextDay  the start of the next day, in UTC
 * @param {string} now
 */
export function endOfDay(nextDay, now) {
  return Date.parse(nextDay) > Date.parse(now) ? now : nextDay;
}

/** A value of a record, which may be a list of things: "on 2026-12-08, litres 120; ...". @param {string} text */
export function valueInWords(text) {
  if (!/^[[{]|^(true|false|null)$/.test(text)) return text;
  try {
    return saidPlainly(JSON.parse(text));
  } catch {
    return text;
  }
}

/** @param {any} value @returns {string} */
function saidPlainly(value) {
  if (value === null || value === "") return "nothing";
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (typeof value !== "object") return String(value);
  if (Array.isArray(value)) {
    const nested = value.some((one) => one !== null && typeof one === "object");
    return value.map(saidPlainly).join(nested ? "; " : ", ") || "nothing";
  }
  return Object.entries(value)
    .map(([name, one]) => `${name.replaceAll("_", " ")} ${saidPlainly(one)}`)
    .join(", ");
}
