/** The batch's own thaw protocol: one or more baths, each with temperature and seconds. */

import { isWhole, readDecimal } from "../logic/numbers.js";
import { el, freshId, show } from "./dom.js";
import { messages } from "./fields.js";

const text = {
  legend: "Thawing",
  hint: "As the laboratory’s card says. Remove all steps if it is not known yet.",
  water: "Water (°C)",
  seconds: "Seconds",
  remove: "Remove",
  removeName: (/** @type {number} */ number) => `Remove step ${number}`,
  add: "Add a step",
  wrong: "Each step needs a water temperature between 0 and 100 °C and whole seconds.",
  usual: { water_c: "37", seconds: "30" },
};

/** @param {string} typed */
function numberOf(typed) {
  const read = readDecimal(typed);
  return read.ok ? read.text : null;
}

/** @returns {import("./fields.js").Field} */
export function thawField() {
  /** @type {{water_c: string, seconds: string}[]} */
  let steps = [{ ...text.usual }];
  const list = el("div", { class: "form-part" });
  const add = el("button", { type: "button", class: "button" }, text.add);
  const node = el("fieldset", { class: "fieldset" }, el("legend", {}, text.legend),
    el("p", { class: "hint" }, text.hint), list, add);
  const said = messages(node);
  node.append(...said.nodes);
  const draw = () => show(list, steps.map((step, i) => stepRow(step, i, () => {
    steps = steps.filter((one) => one !== step);
    draw();
    add.focus();
    node.dispatchEvent(new Event("input", { bubbles: true }));
  })));
  add.addEventListener("click", () => {
    steps = [...steps, { water_c: "", seconds: "" }];
    draw();
    list.lastElementChild?.querySelector("input")?.focus();
  });
  draw();
  return {
    name: "thaw", node, complain: said.complain, warn: said.warn,
    focus: () => (list.querySelector("input") ?? add).focus(),
    raw: () => JSON.stringify(steps),
    setRaw(kept) {
      steps = JSON.parse(kept);
      draw();
    },
    read() {
      const read = steps.map((step) => ({ water: numberOf(step.water_c), seconds: numberOf(step.seconds) }));
      const bad = read.some(({ water, seconds }) => water === null || seconds === null || !isWhole(seconds)
        || Number(seconds) < 1 || Number(water) < 0 || Number(water) > 100);
      if (bad) return { ok: false, message: text.wrong };
      const value = read.map(({ water, seconds }) => ({ water_c: Number(water), seconds: Number(seconds) }));
      return { ok: true, value: value.length ? { steps: value } : undefined };
    },
  };
}

/** @param {{water_c: string, seconds: string}} step @param {number} at @param {() => void} remove */
function stepRow(step, at, remove) {
  const cell = (/** @type {"water_c"|"seconds"} */ key, /** @type {string} */ label) => {
    const input = el("input", { type: "text", inputmode: "decimal", autocomplete: "off", id: freshId("thaw"), value: step[key] });
    input.addEventListener("input", () => { step[key] = input.value; });
    return el("div", { class: "field" }, el("label", { for: input.id }, label), input);
  };
  const button = el("button", { type: "button", class: "button", "aria-label": text.removeName(at + 1) }, text.remove);
  button.addEventListener("click", remove);
  return el("div", { class: "edit-row" }, cell("water_c", text.water), cell("seconds", text.seconds), button);
}
