/** Two fields of the rounds' plan: the days on which tanks are filled, and the deliveries. */

import { WEEKDAYS } from "../logic/duty.js";
import { readDecimal } from "../logic/numbers.js";
import { showWeekday } from "../logic/times.js";
import { el, freshId, show } from "./dom.js";
import { messages } from "./fields.js";

const text = {
  days: "Tanks are filled on",
  daysHint:
    "Days on which somebody is there to help. A tank that cannot wait is planned beside them.",
  noDay: "Choose one day or more.",
  deliveries: "Deliveries to the supply vessel",
  deliveriesHint: "Those that are ordered or come by contract, also the far ones.",
  day: "Arrives on",
  litres: "Litres",
  add: "Add a delivery",
  remove: (/** @type {number} */ number) => `Remove delivery ${number}`,
  wrong: "Each delivery needs a day and litres above 0. Remove the empty ones.",
};

/** @param {number[]} chosen 0 is Monday @returns {import("./fields.js").Field} */
export function weekdaysField(chosen) {
  const inputs = WEEKDAYS.map((_, i) =>
    el("input", { type: "checkbox", id: freshId("day"), checked: chosen.includes(i) }),
  );
  const node = el(
    "fieldset",
    { class: "field choices" },
    el("legend", {}, text.days),
    el("p", { class: "hint" }, text.daysHint),
    el(
      "div",
      { class: "weekdays" },
      WEEKDAYS.map((name, i) =>
        el("label", { class: "choice", for: inputs[i].id }, inputs[i], el("span", {}, name)),
      ),
    ),
  );
  const said = messages(node);
  node.append(...said.nodes);
  const now = () => WEEKDAYS.map((_, i) => i).filter((i) => inputs[i].checked);
  return {
    name: "fill_weekdays",
    node,
    complain: said.complain,
    warn: said.warn,
    raw: () => JSON.stringify(now()),
    setRaw(kept) {
      const days = JSON.parse(kept);
      inputs.forEach((input, i) => {
        input.checked = days.includes(i);
      });
    },
    focus: () => inputs[0].focus(),
    read: () => (now().length ? { ok: true, value: now() } : { ok: false, message: text.noDay }),
  };
}

/** @typedef {{on: string, litres: string}} Delivery */

/** @param {{on: string, litres: number}[]} start @returns {import("./fields.js").Field} */
export function deliveriesField(start) {
  /** @type {Delivery[]} */
  let rows = start.map(({ on, litres }) => ({ on, litres: String(litres) }));
  const list = el("div", { class: "form-part" });
  const add = el("button", { type: "button", class: "button" }, text.add);
  const node = el(
    "fieldset",
    { class: "fieldset" },
    el("legend", {}, text.deliveries),
    el("p", { class: "hint" }, text.deliveriesHint),
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
        deliveryRow(row, i, () => {
          rows = rows.filter((one) => one !== row);
          draw();
          changed();
          add.focus();
        }),
      ),
    );
  add.addEventListener("click", () => {
    rows = [...rows, { on: "", litres: "" }];
    draw();
    list.lastElementChild?.querySelector("input")?.focus();
  });
  draw();
  return {
    name: "deliveries",
    node,
    complain: said.complain,
    warn: said.warn,
    raw: () => JSON.stringify(rows),
    setRaw(kept) {
      rows = JSON.parse(kept);
      draw();
    },
    focus: () => (list.querySelector("input") ?? add).focus(),
    read() {
      const read = rows.map(readDelivery);
      if (read.includes(null)) return { ok: false, message: text.wrong };
      const inOrder = /** @type {Delivery[]} */ (read).sort((a, b) => (a.on < b.on ? -1 : 1));
      return {
        ok: true,
        value: inOrder.map(({ on, litres }) => ({ on, litres: Number(litres) })),
      };
    },
  };
}

/** @param {Delivery} row @returns {Delivery|null} */
function readDelivery({ on, litres }) {
  const read = readDecimal(litres);
  return on && read.ok && Number(read.text) > 0 ? { on, litres: read.text } : null;
}

/** @param {Delivery} row @param {number} at @param {() => void} remove */
function deliveryRow(row, at, remove) {
  const echo = el("p", { class: "echo" });
  const tell = () => show(echo, row.on && showWeekday(row.on));
  const cell = (/** @type {keyof Delivery} */ key, /** @type {string} */ label, props = {}) => {
    const input = el("input", { id: freshId("cell"), value: row[key], ...props });
    input.addEventListener("input", () => {
      row[key] = input.value;
      tell();
    });
    return el("div", { class: "field" }, el("label", { for: input.id }, label), input);
  };
  tell();
  const button = el(
    "button",
    { type: "button", class: "button", "aria-label": text.remove(at + 1) },
    "×",
  );
  button.addEventListener("click", remove);
  return el(
    "div",
    { class: "edit-row edit-row-delivery" },
    cell("on", text.day, { type: "date" }),
    cell("litres", text.litres, { type: "text", inputmode: "decimal", autocomplete: "off" }),
    button,
    echo,
  );
}
