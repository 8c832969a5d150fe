/** Alerts in words and in order: what presses most, whose job it is, how it stands. Pure. */

/** @typedef {"critical"|"medium"|"low"} Priority */
/** @typedef {"open"|"cleared-unseen"|"acknowledged"|"shelved"|"closed"} State */

/** The most pressing first. @type {Record<Priority, string>} */
export const PRIORITIES = { critical: "Critical", medium: "Today", low: "This week" };

const RANKS = Object.keys(PRIORITIES);

/** @type {Record<State, string>} */
export const STATES = {
  open: "Nobody takes care of it yet",
  "cleared-unseen": "It came and went, and nobody has looked at it",
  acknowledged: "Somebody takes care of it",
  shelved: "Put aside",
  closed: "Over",
};

/** Whether it waits for somebody to take care of it. @param {{state: string}} alert */
export function asks(alert) {
  return alert.state === "open" || alert.state === "cleared-unseen";
}

/** What it is about and what is the case. @param {any} alert */
export function titleOf(alert) {
  const { title, subject } = alert;
  if (alert.subject_kind === "service") return title;
  return `${subject}: ${title[0].toLowerCase()}${title.slice(1)}`;
}

/** Those that wait first, then by what presses, what is true now, and the oldest. @param {any[]} alerts */
export function inOrder(alerts) {
  const key = (/** @type {any} */ one) => [
    asks(one) ? 0 : 1,
    RANKS.indexOf(one.priority),
    one.state === "open" ? 0 : 1,
    Date.parse(one.opened_at),
  ];
  return alerts
    .map((one) => ({ one, key: key(one) }))
    .sort((a, b) => {
      const at = a.key.findIndex((value, i) => value !== b.key[i]);
      return at < 0 ? 0 : a.key[at] - b.key[at];
    })
    .map(({ one }) => one);
}

/**
 * What waits for this person, what is taken care of and still concerns them, and the rest.
 * Critical is everybody's.
 * @param {any[]} alerts @param {{role: string, id: string}} who
 */
export function sorted(alerts, who) {
  /** @type {{now: any[], known: any[], others: any[]}} */
  const found = { now: [], known: [], others: [] };
  for (const one of inOrder(alerts)) {
    const critical = one.priority === "critical";
    if (asks(one)) found[critical || one.owner === who.role ? "now" : "others"].push(one);
    else found[critical || one.acknowledged_by_id === who.id ? "known" : "others"].push(one);
  }
  return found;
}

/** Minutes as a person says them. @param {number|null} minutes */
export function showMinutes(minutes) {
  if (minutes === null) return "–";
  const whole = Math.round(minutes);
  if (whole < 1) return "less than 1 min";
  if (whole < 60) return `${whole} min`;
  if (whole < 48 * 60) {
    const rest = whole % 60;
    return `${Math.floor(whole / 60)} h${rest ? ` ${rest} min` : ""}`;
  }
  return `${Math.round(whole / 60 / 24)} days`;
}
