/** A short table that is typed row by row: baths of a thaw, lines of a dipstick table, canisters. */

import { isWhole, readDecimal } from "../logic/numbers.js";
import { el, freshId, show } from "./dom.js";
import { messages } from "./fields.js";

/** @typedef {{key: string, label: string, whole?: boolean, least?: number, most?: number}} Column */

const text = {
  removeName: (/** @type {number} */ number) => `Remove row ${number}`,
};

/**
 * @param {{name: string, legend: string, hint: string, add: string, wrong: string, columns: Column[],
 *   start: Record<string, string>[], least?: number,
 *   value: (rows: Record<string, string>[]) => any}} spec
 *   `value` gets canonical decimals and makes what is sent; `wrong` says what a row has to be
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
  const draw = () =>
    show(
      list,
      rows.map((row, i) =>
        rowNode(spec.columns, row, i, () => {
          rows = rows.filter((one) => one !== row);
          draw();
          changed();
          add.focus();
        }),
      ),
    );
  add.addEventListener("click", () => {
    rows = [...rows, Object.fromEntries(spec.columns.map((column) => [column.key, ""]))];
    draw();
    list.lastElementChild?.querySelector("input")?.focus();
  });
  draw();
  return {
    name: spec.name,
    node,
    complain: said.complain,
    warn: said.warn,
    focus: () => (list.querySelector("input") ?? add).focus(),
    raw: () => JSON.stringify(rows),
    setRaw(kept) {
      rows = JSON.parse(kept);
      draw();
    },
    read() {
      const read = rows.map((row) => readRow(spec.columns, row));
      if (read.some((row) => row === null) || rows.length < (spec.least ?? 0))
        return { ok: false, message: spec.wrong };
      return { ok: true, value: spec.value(/** @type {any} */ (read)) };
    },
  };
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
