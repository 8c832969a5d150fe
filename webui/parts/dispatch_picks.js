/** What goes into one container: places and numbers, added from a list or by scanning. */

import { get } from "../net/api.js";
import { groupedCode } from "../logic/codes.js";
import { isWhole, plural, readDecimal } from "../logic/numbers.js";
import { stateInWords } from "../logic/words.js";
import { codeText, el, freshId, show } from "./dom.js";
import { messages } from "./fields.js";
import { readCodeItem } from "./code_picker.js";
import { scanField } from "./scan.js";

/** @typedef {{goblet_id: string, batch_id: string, straws: string, codes: string[]}} Row */

const text = {
  legend: "What goes",
  hint: "Several goblets, batches and stallions may go in one container. Straws on hold or in quarantine are not offered.",
  choose: "Add from the bank",
  none: "Choose goblet and batch",
  option: (/** @type {any} */ item) =>
    `${item.stallion_name} · ${item.address} · batch ${groupedCode(item.batch_code)} · ${plural(item.straws, "straw")}`,
  nothing: "Nothing yet. Add a goblet from the list, or scan.",
  empty: "Say which straws go.",
  straws: (/** @type {any} */ item) => `Straws out of ${item.address}, of ${item.straws}`,
  wrong: (/** @type {any} */ item) =>
    `Goblet ${item.address}: a whole number from 1 to ${item.straws}.`,
  tooMany: (/** @type {any} */ item) =>
    `Goblet ${item.address}: more codes were scanned than straws go.`,
  remove: "Remove",
  scan: "Or scan straw, goblet or batch",
  scanHint: "A straw that is scanned goes for certain. Otherwise the number is booked.",
  total: (/** @type {number} */ straws) => `${plural(straws, "straw")} in all.`,
  added: (/** @type {any} */ item) => `${item.stallion_name}, ${item.address}: added.`,
  again: "That one is on the list already.",
  notHere: (/** @type {string} */ state) => `The book has this straw as: ${state}.`,
  nothingThere: "Nothing that may leave stands there.",
};

/**
 * Reads as the picks of the request.
 * @param {{stock: any[], start: any[]}} spec `stock`: rows of the stock list; `start`: those that
 *   the person came from
 * @returns {import("./fields.js").Field}
 */
export function dispatchPicks({ stock, start }) {
  const offered = stock.filter((item) => !item.on_hold);
  /** @type {Row[]} */
  let rows = [];
  const itemOf = (/** @type {Row} */ row) => offered.find((item) => isOf(item, row));
  const list = el("div", { class: "form-part" });
  const total = el("p", { class: "walk-facts" });
  const choose = select(offered);
  const scan = scanField({
    label: text.scan,
    hint: text.scanHint,
    got: (code, kind) => scanned(code, kind, offered, add),
  });
  const node = el(
    "fieldset",
    { class: "fieldset" },
    el("legend", {}, text.legend),
    el("p", { class: "hint" }, text.hint),
    list,
    total,
    choose.node,
    scan.node,
  );
  const said = messages(node);
  node.append(...said.nodes);
  const changed = () => {
    said.complain(null);
    count();
    node.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const count = () => show(total, rows.length ? text.total(sum(rows)) : text.nothing);
  const draw = () => {
    const drop = (/** @type {Row} */ row) => {
      rows = rows.filter((one) => one !== row);
      draw();
      changed();
      choose.control.focus();
    };
    show(
      list,
      rows.map((row) => rowNode(row, itemOf(row), changed, drop)),
    );
    count();
  };
  /** @param {any} item @param {string} [code] */
  function add(item, code) {
    let row = rows.find((one) => isOf(item, one));
    if (row && !code) return false;
    if (!row) {
      row = { goblet_id: item.goblet_id, batch_id: item.batch_id, straws: "", codes: [] };
      rows = [...rows, row];
    }
    if (code && row.codes.includes(code)) return false;
    if (code) row.codes = [...row.codes, code];
    if (code && !(numberIn(row) >= row.codes.length)) row.straws = String(row.codes.length);
    draw();
    changed();
    return true;
  }
  choose.control.addEventListener("change", () => {
    const item = offered[Number(choose.control.value)];
    choose.control.value = "";
    if (item && add(item)) /** @type {any} */ (list.lastElementChild)?.querySelector("input")?.focus();
  });
  draw();
  for (const item of start) if (offered.includes(item)) add(item);
  return {
    name: "picks",
    node,
    complain: said.complain,
    warn: said.warn,
    focus: () => (list.querySelector("input") ?? choose.control).focus(),
    raw: () => (rows.length ? JSON.stringify(rows) : ""),
    setRaw(kept) {
      /** @type {Row[]} */
      const before = JSON.parse(kept).filter(itemOf);
      rows = [...before, ...rows.filter((row) => !before.some((one) => isOf(one, row)))];
      draw();
    },
    read: () => readRows(rows, itemOf),
  };
}

/** @param {any} item @param {{goblet_id: string, batch_id: string}} row */
function isOf(item, row) {
  return item.goblet_id === row.goblet_id && item.batch_id === row.batch_id;
}

/** @param {Row} row */
function numberIn(row) {
  const read = readDecimal(row.straws);
  return read.ok && isWhole(read.text) ? Number(read.text) : Number.NaN;
}

/** @param {Row[]} rows */
function sum(rows) {
  return rows.reduce((all, row) => all + (numberIn(row) || 0), 0);
}

/** @param {any[]} offered */
function select(offered) {
  const control = el(
    "select",
    { id: freshId("pick") },
    el("option", { value: "" }, text.none),
    offered.map((item, i) => el("option", { value: i }, text.option(item))),
  );
  const node = el(
    "div",
    { class: "field" },
    el("label", { for: control.id }, text.choose),
    control,
  );
  return { control, node };
}

/** @param {Row} row @param {any} item @param {() => void} changed @param {(row: Row) => void} drop */
function rowNode(row, item, changed, drop) {
  const input = el("input", {
    type: "text",
    inputmode: "numeric",
    autocomplete: "off",
    id: freshId("straws"),
    value: row.straws,
  });
  input.addEventListener("input", () => {
    row.straws = input.value;
    changed();
  });
  const remove = el(
    "button",
    { type: "button", class: "button button-quiet", "aria-label": `${text.remove} ${item.address}` },
    text.remove,
  );
  remove.addEventListener("click", () => drop(row));
  const codes = el("ul", { class: "codes" });
  const drawCodes = () =>
    show(
      codes,
      row.codes.map((code) =>
        readCodeItem(code, () => {
          row.codes = row.codes.filter((one) => one !== code);
          drawCodes();
          changed();
        }),
      ),
    );
  drawCodes();
  return el(
    "div",
    { class: "card" },
    el("p", {}, el("strong", {}, item.stallion_name), " · ", codeText(item.batch_code)),
    el("div", { class: "field" }, el("label", { for: input.id }, text.straws(item)), input),
    codes,
    remove,
  );
}

/** @param {Row[]} rows @param {(row: Row) => any} itemOf @returns {ReturnType<import("./fields.js").Field["read"]>} */
function readRows(rows, itemOf) {
  if (!rows.length) return { ok: false, message: text.empty };
  for (const row of rows) {
    const item = itemOf(row);
    const straws = numberIn(row);
    if (!(straws >= 1 && straws <= item.straws)) return { ok: false, message: text.wrong(item) };
    if (row.codes.length > straws) return { ok: false, message: text.tooMany(item) };
  }
  return {
    ok: true,
    value: rows.map((row) => ({
      goblet_id: row.goblet_id,
      batch_id: row.batch_id,
      straws: numberIn(row),
      ...(row.codes.length ? { seen_straw_codes: row.codes } : {}),
    })),
  };
}

/**
 * @param {string} code @param {string} kind @param {any[]} offered
 * @param {(item: any, code?: string) => boolean} add
 * @returns {Promise<import("./scan.js").Said>}
 */
async function scanned(code, kind, offered, add) {
  let found;
  try {
    found = await get(`/scan/${encodeURIComponent(code)}`);
  } catch (problem) {
    return { kind: "refused", text: /** @type {any} */ (problem).message };
  }
  const straw = kind === "straw";
  if (straw && found.state !== "stored")
    return { kind: "refused", text: text.notHere(stateInWords(found.state)) };
  const items = offered.filter((item) =>
    straw
      ? isOf(item, found)
      : item.goblet_id === found.id || item.batch_id === found.id,
  );
  if (!items.length) return { kind: "refused", text: text.nothingThere };
  const added = items.filter((item) => add(item, straw ? code : undefined));
  if (!added.length) return { kind: "check", text: text.again };
  return { kind: "done", text: added.map(text.added).join(" ") };
}
