/** The duty rota in words: weekly handovers, and who stands in. Pure. */

export const WEEKDAYS = [
  "Monday",
  "Tuesday",
  "Wednesday",
  "Thursday",
  "Friday",
  "Saturday",
  "Sunday",
];

/** @typedef {{weekday: number, at: string, person_id: string, second_id: string|null}} Handover */
/** @typedef {{starts_at: string, ends_at: string, person_id: string, second_id: string|null}} StandIn */
/** @typedef {(id: string) => string} NameOf */

/** @param {{person_id: string, second_id: string|null}} shift @param {NameOf} nameOf */
function who(shift, nameOf) {
  const second = shift.second_id ? `, second ${nameOf(shift.second_id)}` : "";
  return `${nameOf(shift.person_id)}${second}`;
}

/** @param {Handover} one @param {NameOf} nameOf */
export function handoverInWords(one, nameOf) {
  return `${WEEKDAYS[one.weekday]}, ${one.at}: ${who(one, nameOf)}`;
}

/** @param {StandIn} one @param {NameOf} nameOf @param {(iso: string) => string} moment */
export function standInInWords(one, nameOf, moment) {
  return `${moment(one.starts_at)} to ${moment(one.ends_at)}: ${who(one, nameOf)}`;
}

/** In the order of the week. @param {Handover[]} rows */
export function inWeekOrder(rows) {
  return [...rows].sort((a, b) => a.weekday - b.weekday || (a.at < b.at ? -1 : 1));
}
