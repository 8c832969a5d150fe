/** The rota as rows to be typed: weekly handovers, and who stands in. */

import { handoverInWords, inWeekOrder, standInInWords, WEEKDAYS } from "../logic/duty.js";
import { fromLocalField, toLocalField } from "../logic/times.js";
import { moment, zone } from "../net/session.js";
import { el, freshId } from "./dom.js";
import { rowsField } from "./rows_field.js";

/** @typedef {import("./rows_field.js").Row} Row */
/** @typedef {{id: string, display_name: string}} Somebody */

const text = {
  handovers: "Weekly handovers",
  handoversHint:
    "From that moment on, every week, this person is on duty until the next handover. One row alone is a person who always is.",
  addHandover: "Add a handover",
  weekday: "Day",
  at: "Time",
  who: "On duty",
  second: "Second",
  noSecond: "nobody",
  choose: "Choose",
  handoverWrong: "Each handover needs a day, a time and a person. Remove the empty ones.",
  standIns: "Stand-ins",
  standInsHint: "For a time somebody else is on duty: holidays, illness.",
  addStandIn: "Add a stand-in",
  from: "From",
  until: "Until",
  standInWrong: "Each stand-in needs a beginning, an end and a person. Remove the empty ones.",
  remove: (/** @type {string} */ what, /** @type {number} */ number) => `Remove ${what} ${number}`,
  handover: "handover",
  standIn: "stand-in",
};

/** @param {string} one @param {(row: Row) => HTMLElement[]} cells */
function card(one, cells) {
  return (/** @type {Row} */ row, /** @type {number} */ at, /** @type {() => void} */ remove) => {
    const button = el(
      "button",
      { type: "button", class: "button" },
      text.remove(one, at + 1),
    );
    button.addEventListener("click", remove);
    return el(
      "div",
      { class: "edit-card" },
      el("div", { class: "pair pair-wide" }, cells(row)),
      button,
    );
  };
}

/** @param {(one: any) => string} inWords */
function allInWords(inWords) {
  return (/** @type {any[]} */ value) => value.map(inWords).join("; ") || text.noSecond;
}

/** @param {Row} row @param {string} key @param {string} label @param {HTMLInputElement|HTMLSelectElement} control */
function cell(row, key, label, control) {
  control.id = freshId("cell");
  control.value = row[key] ?? "";
  control.addEventListener("input", () => {
    row[key] = control.value;
  });
  return el("div", { class: "field" }, el("label", { for: control.id }, label), control);
}

/** @param {{value: string, text: string}[]} options @param {string} none */
function choice(options, none) {
  return el(
    "select",
    {},
    el("option", { value: "" }, none),
    options.map((one) => el("option", { value: one.value }, one.text)),
  );
}

/** @param {Row} row @param {Somebody[]} people */
function personCells(row, people) {
  const options = people.map((one) => ({ value: one.id, text: one.display_name }));
  return [
    cell(row, "person_id", text.who, choice(options, text.choose)),
    cell(row, "second_id", text.second, choice(options, text.noSecond)),
  ];
}

/** @param {any[]} start @param {Somebody[]} people @param {(id: string) => string} nameOf */
export function handoversField(start, people, nameOf) {
  const days = WEEKDAYS.map((name, i) => ({ value: String(i), text: name }));
  return rowsField({
    name: "handovers",
    legend: text.handovers,
    hint: text.handoversHint,
    add: text.addHandover,
    wrong: text.handoverWrong,
    start: inWeekOrder(start).map((one) => ({
      weekday: String(one.weekday),
      at: one.at,
      person_id: one.person_id,
      second_id: one.second_id ?? "",
    })),
    fresh: { weekday: "0", at: "07:00", person_id: "", second_id: "" },
    drawn: card(text.handover, (row) => [
      cell(row, "weekday", text.weekday, choice(days, text.choose)),
      cell(row, "at", text.at, el("input", { type: "time" })),
      ...personCells(row, people),
    ]),
    read: ({ weekday, at, person_id, second_id }) =>
      weekday && at && person_id
        ? { weekday: Number(weekday), at: at.slice(0, 5), person_id, second_id: second_id || null }
        : null,
    inWords: allInWords((one) => handoverInWords(one, nameOf)),
  });
}

/** @param {any[]} start @param {Somebody[]} people @param {(id: string) => string} nameOf */
export function standInsField(start, people, nameOf) {
  const local = (/** @type {string} */ iso) => toLocalField(new Date(iso), zone());
  return rowsField({
    name: "stand_ins",
    legend: text.standIns,
    hint: text.standInsHint,
    add: text.addStandIn,
    wrong: text.standInWrong,
    start: start.map((one) => ({
      from: local(one.starts_at),
      until: local(one.ends_at),
      person_id: one.person_id,
      second_id: one.second_id ?? "",
    })),
    fresh: { from: "", until: "", person_id: "", second_id: "" },
    drawn: card(text.standIn, (row) => [
      cell(row, "from", text.from, el("input", { type: "datetime-local" })),
      cell(row, "until", text.until, el("input", { type: "datetime-local" })),
      ...personCells(row, people),
    ]),
    read: ({ from, until, person_id, second_id }) => {
      const starts_at = fromLocalField(from.slice(0, 16), zone());
      const ends_at = fromLocalField(until.slice(0, 16), zone());
      if (!starts_at || !ends_at || !person_id) return null;
      return { starts_at, ends_at, person_id, second_id: second_id || null };
    },
    inWords: allInWords((one) => standInInWords(one, nameOf, moment)),
  });
}
