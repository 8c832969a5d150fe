/**
 * Where the straws of a freeze go: proposed by the service, changeable row by row. As long as the
 * person has not touched it, it follows the number of straws and the stallion.
 */

import { isWhole, plural, readDecimal } from "../logic/numbers.js";
import { get, search } from "../net/api.js";
import { el, freshId, show } from "./dom.js";
import { messages } from "./fields.js";

/** @typedef {{goblet_id: string, straws: string, why?: string}} Row */

const text = {
  legend: "Places",
  first: "The places are proposed once stallion and number of straws are given.",
  goblet: "Goblet",
  straws: "Straws",
  choose: "Choose a goblet",
  free: (/** @type {any} */ goblet) =>
    `${goblet.address} · ${goblet.free} free${goblet.quarantine ? " · quarantine" : ""}`,
  removeName: (/** @type {string} */ address) => `Remove the place ${address}`,
  add: "Add a place",
  propose: "Propose places again",
  fits: (/** @type {number} */ placed) => `All ${plural(placed, "straw")} have a place.`,
  missing: (/** @type {number} */ count) => `${plural(count, "straw")} without a place yet.`,
  over: (/** @type {number} */ count) => `${plural(count, "straw")} too many in these places.`,
  noRoom: (/** @type {number} */ count) =>
    `There is no room for ${plural(count, "straw")}. Free a goblet, or set up another.`,
  unset: "Choose a goblet in every row, or remove the row.",
  none: "No place yet. Propose them, or add one.",
};

/** @param {string} typed */
function countOf(typed) {
  const read = readDecimal(typed);
  return read.ok && isWhole(read.text) ? Number(read.text) : 0;
}

/** @typedef {{straws: number, stallion_id: string, batch_id?: string, on_hold?: string}} Wanted */
/** @typedef {{rows: Row[], touched: boolean}} State */

function placesView() {
  const list = el("div", { class: "form-part" });
  const sum = el("p", { class: "places-sum", "aria-live": "polite" });
  const first = el("p", { class: "hint" }, text.first);
  const add = el("button", { type: "button", class: "button" }, text.add);
  const again = el("button", { type: "button", class: "button" }, text.propose);
  const ways = el("div", { class: "ways" }, again, add);
  const legend = el("legend", {}, text.legend);
  const node = el("fieldset", { class: "fieldset" }, legend, first, list, sum, ways);
  const said = messages(node);
  node.append(...said.nodes);
  return { node, list, sum, first, add, again, said };
}

/** @param {Row[]} rows */
function placed(rows) {
  return rows.reduce((total, row) => total + countOf(row.straws), 0);
}

/** Ask for places; null when there is nothing to ask or no answer. @param {Wanted} wanted */
async function proposal(wanted) {
  if (!wanted.straws || !wanted.stallion_id) return null;
  return get(`/goblets/free${search({ ...wanted })}`).catch(() => null);
}

/** @param {any} found @returns {Row[]} */
function rowsOf(found) {
  return found.placements.map((/** @type {any} */ one) => ({
    goblet_id: one.goblet_id,
    straws: String(one.straws),
    why: one.why,
  }));
}

/**
 * @param {{goblets: any[], wanted: () => Wanted}} spec
 *   `goblets`: all that are in use, with `free` and `quarantine`
 */
export function placesField({ goblets, wanted }) {
  const view = placesView();
  /** @type {State} */
  const state = { rows: [], touched: false };
  const tell = () => {
    const here = placed(state.rows);
    view.sum.textContent = state.rows.length ? balance(wanted().straws - here, here) : "";
  };
  const change = (/** @type {Row[]} */ rows, touched = true) => {
    Object.assign(state, { rows, touched });
    const drop = (/** @type {Row} */ row) => change(state.rows.filter((one) => one !== row));
    const typed = () => {
      state.touched = true;
      tell();
    };
    show(
      view.list,
      rows.map((row) => placeRow(row, goblets, typed, () => drop(row))),
    );
    tell();
  };
  view.add.addEventListener("click", () => {
    const left = Math.max(0, wanted().straws - placed(state.rows));
    change([...state.rows, { goblet_id: "", straws: String(left) }]);
    view.list.lastElementChild?.querySelector("select")?.focus();
  });
  const propose = async (/** @type {boolean} */ asked) => {
    const asking = wanted();
    const found = state.touched && !asked ? null : await proposal(asking);
    if (!found || wanted().straws !== asking.straws) return tell();
    view.first.hidden = true;
    view.said.complain(found.missing_straws ? text.noRoom(found.missing_straws) : null);
    return change(rowsOf(found), false);
  };
  view.again.addEventListener("click", () => propose(true));
  return {
    name: "placements",
    node: view.node,
    complain: view.said.complain,
    warn: view.said.warn,
    propose,
    /** The row of a goblet whose plate was scanned, made where there is room. @param {string} id */
    scanned(id) {
      const goblet = goblets.find((one) => one.id === id);
      const row = state.rows.find((one) => one.goblet_id === id);
      if (!goblet || row || goblet.free <= 0)
        return { goblet, straws: row ? countOf(row.straws) : 0, added: false };
      const left = Math.min(goblet.free, Math.max(0, wanted().straws - placed(state.rows)));
      change([...state.rows, { goblet_id: id, straws: String(left) }]);
      return { goblet, straws: left, added: true };
    },
    focus: () => (view.list.querySelector("select") ?? view.again).focus(),
    raw: () => JSON.stringify(state),
    setRaw(/** @type {string} */ kept) {
      const was = JSON.parse(kept);
      change(was.rows, was.touched);
    },
    read: () => readRows(state.rows, wanted().straws),
  };
}

/** @param {Row[]} rows @param {number} straws @returns {{ok: true, value: any} | {ok: false, message: string}} */
function readRows(rows, straws) {
  const used = rows.filter((row) => row.goblet_id || countOf(row.straws));
  if (used.some((row) => !row.goblet_id)) return { ok: false, message: text.unset };
  const left = straws - used.reduce((total, row) => total + countOf(row.straws), 0);
  if (!used.length && straws) return { ok: false, message: text.none };
  if (left !== 0) return { ok: false, message: balance(left, straws) };
  return {
    ok: true,
    value: used.map((row) => ({ goblet_id: row.goblet_id, straws: countOf(row.straws) })),
  };
}

/** @param {number} left @param {number} placed */
function balance(left, placed) {
  if (left > 0) return text.missing(left);
  return left < 0 ? text.over(-left) : text.fits(placed);
}

/** @param {Row} row @param {any[]} goblets @param {() => void} changed @param {() => void} remove */
function placeRow(row, goblets, changed, remove) {
  const select = el(
    "select",
    { id: freshId("goblet") },
    el("option", { value: "" }, text.choose),
    goblets
      .filter((one) => one.free > 0 || one.id === row.goblet_id)
      .map((one) => el("option", { value: one.id }, text.free(one))),
  );
  select.value = row.goblet_id;
  const straws = el("input", {
    type: "text",
    inputmode: "numeric",
    autocomplete: "off",
    id: freshId("straws"),
    value: row.straws,
  });
  const address = goblets.find((one) => one.id === row.goblet_id)?.address ?? "";
  const button = el(
    "button",
    { type: "button", class: "button", "aria-label": text.removeName(address) },
    "×",
  );
  const why = el("p", { class: "hint" }, row.why ?? "");
  select.addEventListener("change", () => {
    row.goblet_id = select.value;
    row.why = "";
    why.textContent = "";
    changed();
  });
  straws.addEventListener("input", () => {
    row.straws = straws.value;
    changed();
  });
  button.addEventListener("click", remove);
  return el(
    "div",
    { class: "edit-row edit-row-place" },
    el("div", { class: "field" }, el("label", { for: select.id }, text.goblet), select),
    el("div", { class: "field" }, el("label", { for: straws.id }, text.straws), straws),
    button,
    row.why && why,
  );
}

/**
 * Every goblet in use with its free straws, in the order of the bank.
 * @param {any[]} tanks @param {any[]} stock
 */
export function gobletsWithRoom(tanks, stock) {
  const inside = new Map();
  for (const item of stock)
    inside.set(item.goblet_id, (inside.get(item.goblet_id) ?? 0) + item.straws);
  return tanks
    .filter((tank) => !tank.retired_at)
    .flatMap((tank) =>
      tank.canisters
        .filter((/** @type {any} */ one) => !one.retired_at)
        .flatMap((/** @type {any} */ canister) =>
          canister.goblets
            .filter((/** @type {any} */ one) => !one.retired_at)
            .map((/** @type {any} */ goblet) => ({
              ...goblet,
              quarantine: tank.quarantine,
              free: goblet.capacity_straws - (inside.get(goblet.id) ?? 0),
            })),
        ),
    );
}
