/** What is typed row by row: baths of a thaw, lines of a dipstick table, canisters, handovers. */

import { isWhole, readDecimal } from "../logic/numbers.js";
import { el, freshId, show } from "./dom.js";
import { messages } from "./fields.js";

/** @typedef {{key: string, label: string, whole?: boolean, least?: number, most?: number}} Column */
/** @typedef {Record<string, string>} Row */

const text = {
  removeName: (/** @type {number} */ number) => `Remove row ${number}`,
};

/**
 * Rows that come and go.
 * @param {{name: string, legend: string, hint: string, add: string, wrong: string,
 *   start: Row[], fresh: Row, least?: number,
 *   drawn: (row: Row, at: number, remove: () => void) => HTMLElement,
 *   read: (row: Row) => any, value?: (read: any[]) => any, inWords?: (value: any) => string}} spec
 *   `read` gives what a row says, null when it is not whole, and `wrong` what it has to be then;
 *   `value` makes what is sent of all
 * @returns {import("./fields.js").Field}
 */
export function rowsField(spec) {
  let rows = spec.start.map((row) => ({ ...row }));
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
  const first = (/** @type {Element|null} */ where) =>
    /** @type {HTMLElement|null|undefined} */ (where?.querySelector("select, input"));
  const draw = () =>
    show(
      list,
      rows.map((row, i) =>
        spec.drawn(row, i, () => {
          rows = rows.filter((one) => one !== row);
          draw();
          changed();
          add.focus();
        }),
      ),
    );
  add.addEventListener("click", () => {
    rows = [...rows, { ...spec.fresh }];
    draw();
    first(list.lastElementChild)?.focus();
  });
  draw();
  return {
    name: spec.name,
    node,
    complain: said.complain,
    warn: said.warn,
    inWords: spec.inWords,
    focus: () => (first(list) ?? add).focus(),
    raw: () => JSON.stringify(rows),
    setRaw(kept) {
      rows = JSON.parse(kept);
      draw();
    },
    read() {
      const read = rows.map(spec.read);
      if (read.includes(null) || rows.length < (spec.least ?? 0))
        return { ok: false, message: spec.wrong };
      return { ok: true, value: spec.value ? spec.value(read) : read };
    },
  };
}

/**
 * A short table of numbers.
 * @param {{name: string, legend: string, hint: string, add: string, wrong: string,
 *   columns: Column[], start: Row[], least?: number, value: (rows: Row[]) => any}} spec
 *   `value` gets canonical decimals
 */
export function numberRowsField({ columns, ...spec }) {
  return rowsField({
    ...spec,
    fresh: Object.fromEntries(columns.map((column) => [column.key, ""])),
    drawn: (row, at, remove) => rowNode(columns, row, at, remove),
    read: (row) => readRow(columns, row),
  });
}

/** @param {Column[]} columns @param {Record<string, string>} row @returns {Record<string, string>|null} */
function readRow(columns, row) {
  /** @type {Record<string, string>} */
  const found = {};
  for (const { key, whole, least = 0, most = Infinity } of columns) {
    const read = readDecimal(row[key] ?? "");
    if (!read.ok || (whole && !isWhole(read.text))) return null;
    if (Number(read.text) < least || Number(read.text) > most) return null;
    found[key] = read.text;
  }
  return found;
}

/** @param {Column[]} columns @param {Record<string, string>} row @param {number} at @param {() => void} remove */
function rowNode(columns, row, at, remove) {
  const cells = columns.map(({ key, label, whole }) => {
    const input = el("input", {
      type: "text",
      inputmode: whole ? "numeric" : "decimal",
      autocomplete: "off",
      id: freshId("cell"),
      value: row[key],
    });
    input.addEventListener("input", () => {
      row[key] = input.value;
    });
    return el("div", { class: "field" }, el("label", { for: input.id }, label), input);
  });
  const button = el(
    "button",
    { type: "button", class: "button", "aria-label": text.removeName(at + 1) },
    "×",
  );
  button.addEventListener("click", remove);
  return el(
    "div",
    { class: columns.length > 2 ? "edit-row edit-row-many" : "edit-row" },
    cells,
    button,
  );
}
