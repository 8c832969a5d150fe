/** The facts of an alert in plain words, by its kind; what is not known is left out. Pure. */

import { STATES as TANKS } from "./nitrogen.js";
import { showNumber } from "./numbers.js";
import { showDay } from "./times.js";

/** @typedef {Record<string, any>} Facts */
/** @typedef {(iso: string) => string} ShowMoment */
/** @typedef {[string, (facts: Facts, moment: ShowMoment) => string|null|false|undefined]} Line */

const one = (/** @type {number} */ value) => showNumber(value, { decimals: 1 });
const two = (/** @type {number} */ value) => showNumber(value);

/** @param {unknown} value */
function known(value) {
  return value !== null && value !== undefined && value !== "";
}

/** A figure with its unit. @param {string} label @param {string} name @param {string} unit @param {(value: number) => string} [shown] @returns {Line} */
function figure(label, name, unit, shown = one) {
  return [label, (facts) => known(facts[name]) && `${shown(facts[name])} ${unit}`];
}

/** @param {string} label @param {string} name @returns {Line} */
function day(label, name) {
  return [label, (facts) => known(facts[name]) && showDay(facts[name])];
}

/** @param {string} label @param {string} name @returns {Line} */
function when(label, name) {
  return [label, (facts, moment) => known(facts[name]) && moment(facts[name])];
}

/** @param {string} label @param {string} name @returns {Line} */
function said(label, name) {
  return [label, (facts) => known(facts[name]) && String(facts[name])];
}

/** Left out when it is 0. @param {string} label @param {string} name @param {string} unit @returns {Line} */
function some(label, name, unit) {
  return [label, (facts) => facts[name] > 0 && `${one(facts[name])} ${unit}`];
}

const LOSES = figure("It loses", "loss_litres_per_day", "litres a day", two);

/** @type {Line} */
const AT_MINIMUM = [
  "At its minimum",
  (facts) =>
    known(facts.reaches_minimum_on) &&
    `likely on ${showDay(facts.reaches_minimum_on)}` +
      (known(facts.reaches_minimum_earliest_on)
        ? `, as early as ${showDay(facts.reaches_minimum_earliest_on)}`
        : ""),
];

/** @type {Line[]} */
const TO_FILL = [
  day("To be filled by", "fill_by"),
  figure("About so much", "litres_to_fill", "litres"),
  figure("Minimum", "minimum_litres", "litres"),
];

/** @type {Record<string, Line[]>} */
const LINES = {
  "low-nitrogen": [
    figure("Level", "level_cm", "cm"),
    figure("Minimum level", "minimum_level_cm", "cm"),
    figure("In it", "litres", "litres"),
    figure("Minimum", "minimum_litres", "litres"),
    LOSES,
    when("Read", "measured_at"),
  ],
  "nitrogen-loss-rising": [
    ["The tank", (facts) => TANKS[/** @type {"failing"} */ (facts.state)]?.word],
    figure("In it", "litres", "litres"),
    AT_MINIMUM,
    LOSES,
    figure("It used to lose", "settled_loss_litres_per_day", "litres a day", two),
    figure("Rated loss", "rated_loss_litres_per_day", "litres a day", two),
    ["Seen outside", (facts) => facts.signs?.join(", ")],
  ],
  "minimum-before-top-up": TO_FILL,
  "top-up-due": TO_FILL,
  "level-overdue": [
    ["Last read", (facts, moment) => (facts.last_read_at ? moment(facts.last_read_at) : "never")],
  ],
  "low-stock": [
    figure("Doses left", "doses", "that may be used"),
    figure("His limit", "low_stock_doses", "doses"),
    some("In the reserve", "doses_in_reserve", "doses more"),
    figure("Straws", "straws", "in the bank"),
    some("On hold", "straws_on_hold", "straws"),
    day("He died", "died_on"),
  ],
  "run-out-forecast": [
    figure("Doses left", "doses", "that may be used"),
    day("Run out likely on", "runs_out_on"),
    [
      "In 90 of 100 cases",
      (facts) =>
        known(facts.earliest_on) &&
        (known(facts.latest_on)
          ? `between ${showDay(facts.earliest_on)} and ${showDay(facts.latest_on)}`
          : `not before ${showDay(facts.earliest_on)}`),
    ],
    figure("Used in the last 12 months", "doses_last_year", "doses"),
    figure("Expected in the next 12", "doses_next_year", "doses"),
  ],
  "hold-ended": [
    day("Held until", "until"),
    said("Held because", "reason"),
    figure("Straws", "straws", "in the bank"),
  ],
  "straws-out-too-long": [
    figure("Out of the tank", "straws", "straws"),
    when("Taken out", "since"),
    said("By", "by"),
    figure("Told after", "hours_allowed", "hours"),
  ],
  "backup-overdue": [
    [
      "Newest that was verified",
      (facts, moment) => (facts.newest_at ? moment(facts.newest_at) : "none"),
    ],
    figure("One is made every", "every_hours", "hours"),
    said("Last failure", "last_failure"),
  ],
  "ledger-not-sound": [
    ["What is wrong", (facts) => facts.problems?.join("\n")],
    figure("Entries", "entries", "in the book"),
  ],
  "service-heartbeat": [
    when("Not running from", "from"),
    when("Until", "until"),
    figure("That is", "hours", "hours"),
    when("Last read as a whole", "last_check_at"),
  ],
  "disk-filling": [
    figure("Free", "free_percent", "%"),
    ["That is", (facts) => known(facts.free_bytes) && `${one(facts.free_bytes / 1e9)} GB`],
  ],
  "stock-difference": [
    figure("Missing", "missing", "straws"),
    figure("Too many", "surplus", "straws"),
    figure("Lost without an explanation", "straws", "straws within a year"),
    figure("Accepted", "accepted", "straws within a year"),
  ],
  "delivery-failing": [
    when("Fails since", "since"),
    figure("Tries that failed", "failures", "in a row"),
    said("Last error", "last_error"),
  ],
};

/**
 * @param {{kind: string, facts: Facts}} alert @param {ShowMoment} moment
 * @returns {[string, string][]}
 */
export function factsInWords({ kind, facts }, moment) {
  return (LINES[kind] ?? []).flatMap(([label, words]) => {
    const value = words(facts, moment);
    return value ? [/** @type {[string, string]} */ ([label, value])] : [];
  });
}

/**
 * Where the thing is done: the pages to go to, the best one first.
 * @param {any} alert @param {boolean} mayBook
 * @returns {{href: string, text: string}[]}
 */
export function waysFor(alert, mayBook) {
  const { subject_id: id, subject } = alert;
  switch (alert.subject_kind) {
    case "tank":
      return [
        ...(mayBook ? [{ href: `#/bank/tank/${id}/dip`, text: "Enter a level or a top-up" }] : []),
        { href: `#/bank/tank/${id}/nitrogen`, text: `Nitrogen in ${subject}` },
      ];
    case "stallion":
      return [{ href: `#/stallions/${id}`, text: `The page of ${subject}` }];
    case "batch":
      return [{ href: `#/batches/${id}`, text: "The batch" }];
    case "withdrawal":
      return [{ href: `#/withdrawals/${id}`, text: "The withdrawal: record what became of it" }];
    case "stock-take":
      return [{ href: `#/stock-takes/${id}`, text: "The stock-take and its differences" }];
    case "channel":
      return [{ href: `#/alerts/settings/channels/${id}`, text: "The channel: error and test" }];
    default:
      return SERVICE[/** @type {keyof typeof SERVICE} */ (id)] ?? [];
  }
}

const BACKUPS = [{ href: "#/backups", text: "The backups" }];
const BOOK = [{ href: "#/book", text: "The book" }];

const SERVICE = {
  backups: BACKUPS,
  book: BOOK,
  check: BOOK,
  disk: BACKUPS,
  unexplained: [
    { href: "#/reading-room?what=adjustments", text: "What was adjusted after stock-takes" },
  ],
  watch: [{ href: "#/nitrogen", text: "Nitrogen in all tanks" }],
  "outside-watch": [{ href: "#/alerts/settings/outside", text: "The outside watch" }],
};

/** What happened, as a heading of the history. @type {Record<string, string>} */
const HAPPENED = {
  opened: "Opened",
  cleared: "The cause is gone",
  "came-back": "It came back",
  worse: "It got worse",
  "told-again": "Still so after its time: it waits for somebody again",
  acknowledged: "Somebody takes care of it",
  shelved: "Put aside",
  "taken-down": "Taken down",
  "shelf-ended": "Its time aside is over",
  inspected: "Somebody looked into the tank",
  told: "Told",
  closed: "Over",
};

/** @param {{what: string, by: string|null}} event */
export function happenedInWords({ what, by }) {
  if (what === "acknowledged" && by) return `${by} takes care of it`;
  if (what === "shelved" && by) return `${by} put it aside`;
  if (what === "taken-down" && by) return `${by} took it down`;
  if (what === "inspected" && by) return `${by} looked into the tank`;
  return HAPPENED[what] ?? what;
}

/** What became of a message. @param {{state: string, at: string|null, attempts: number}} message @param {ShowMoment} moment */
export function deliveryInWords({ state, at, attempts }, moment) {
  const tries = attempts === 1 ? "1 try" : `${attempts} tries`;
  switch (state) {
    case "sent":
      return `Sent and taken on ${moment(at ?? "")}`;
    case "waiting":
      return attempts ? `Not taken yet after ${tries}; it is tried again` : "About to be sent";
    case "sending":
      return "Being sent now";
    case "refused":
      return "Refused: it did not arrive";
    case "given-up":
      return `Given up after ${tries}: it did not arrive`;
    default:
      return "Not sent: somebody had seen it before";
  }
}
