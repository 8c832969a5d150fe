/** The rota as rows to be typed: weekly handovers, and who stands in. */

import { handoverInWords, inWeekOrder, standInInWords, WEEKDAYS } from "../logic/duty.js";
import { fromLocalField, toLocalField } from "../logic/times.js";
import { moment, zone } from "../net/session.js";
import { el, freshId, show } from "./dom.js";
import { messages } from "./fields.js";

/** @typedef {Record<string, string>} Row */
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

/**
 * Rows of cells that come and go.
 * @param {{name: string, legend: string, hint: string, add: string, one: string, wrong: string,
 *   start: Row[], fresh: Row, cells: (row: Row) => HTMLElement[],
 *   read: (row: Row) => any, inWords: (value: any) => string}} spec
 *   `read` gives what is sent for a row, null when it is not whole
 * @returns {import("./fields.js").Field}
 */
function cardsField(spec) {
  let rows = spec.start;
  const list = el("div", { class: "form-part" });
  const add = el("button", { type: "button", class: "button" }, spec.add);
  const node = el(
    "fieldset",
    { class: "fieldset" },
    el("legend", {}, spec.legend),
    el("p", { class: "hint" }, spec.hint),
    list,
    add,
  );
  const said = messages(node);
  node.append(...said.nodes);
  const changed = () => node.dispatchEvent(new Event("input", { bubbles: true }));
  const draw = () =>
    show(
      list,
      rows.map((row, i) => {
        const name = text.remove(spec.one, i + 1);
        const remove = el("button", { type: "button", class: "button" }, name);
        remove.addEventListener("click", () => {
          rows = rows.filter((one) => one !== row);
          draw();
          changed();
          add.focus();
        });
        const cells = el("div", { class: "pair pair-wide" }, spec.cells(row));
        return el("div", { class: "edit-card" }, cells, remove);
      }),
    );
  add.addEventListener("click", () => {
    rows = [...rows, { ...spec.fresh }];
    draw();
    /** @type {HTMLElement|null} */ (
      list.lastElementChild?.querySelector("select, input")
    )?.focus();
  });
  draw();
  return {
    name: spec.name,
    node,
    complain: said.complain,
    warn: said.warn,
    inWords: (value) => value.map(spec.inWords).join("; ") || text.noSecond,
    raw: () => JSON.stringify(rows),
    setRaw(kept) {
      rows = JSON.parse(kept);
      draw();
    },
    focus: () => /** @type {HTMLElement} */ (list.querySelector("select, input") ?? add).focus(),
    read() {
      const read = rows.map(spec.read);
      return read.includes(null) ? { ok: false, message: spec.wrong } : { ok: true, value: read };
    },
  };
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
  return cardsField({
    name: "handovers",
    legend: text.handovers,
    hint: text.handoversHint,
    add: text.addHandover,
    one: text.handover,
    wrong: text.handoverWrong,
    start: inWeekOrder(start).map((one) => ({
      weekday: String(one.weekday),
      at: one.at,
      person_id: one.person_id,
      second_id: one.second_id ?? "",
    })),
    fresh: { weekday: "0", at: "07:00", person_id: "", second_id: "" },
    cells: (row) => [
      cell(row, "weekday", text.weekday, choice(days, text.choose)),
      cell(row, "at", text.at, el("input", { type: "time" })),
      ...personCells(row, people),
    ],
    read: ({ weekday, at, person_id, second_id }) =>
      weekday && at && person_id
        ? { weekday: Number(weekday), at: at.slice(0, 5), person_id, second_id: second_id || null }
        : null,
    inWords: (one) => handoverInWords(one, nameOf),
  });
}

/** @param {any[]} start @param {Somebody[]} people @param {(id: string) => string} nameOf */
export function standInsField(start, people, nameOf) {
  const local = (/** @type {string} */ iso) => toLocalField(new Date(iso), zone());
  return cardsField({
    name: "stand_ins",
    legend: text.standIns,
    hint: text.standInsHint,
    add: text.addStandIn,
    one: text.standIn,
    wrong: text.standInWrong,
    start: start.map((one) => ({
      from: local(one.starts_at),
      until: local(one.ends_at),
      person_id: one.person_id,
      second_id: one.second_id ?? "",
    })),
    fresh: { from: "", until: "", person_id: "", second_id: "" },
    cells: (row) => [
      cell(row, "from", text.from, el("input", { type: "datetime-local" })),
      cell(row, "until", text.until, el("input", { type: "datetime-local" })),
      ...personCells(row, people),
    ],
    read: ({ from, until, person_id, second_id }) => {
      const starts_at = fromLocalField(from.slice(0, 16), zone());
      const ends_at = fromLocalField(until.slice(0, 16), zone());
      if (!starts_at || !ends_at || !person_id) return null;
      return { starts_at, ends_at, person_id, second_id: second_id || null };
    },
    inWords: (one) => standInInWords(one, nameOf, moment),
  });
}
