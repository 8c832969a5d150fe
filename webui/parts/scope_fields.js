/** What a stock-take is of: tanks, goblets, or a sample. */

import { aboutSample } from "../logic/stock_takes.js";
import { plural, readDecimal, showNumber } from "../logic/numbers.js";
import { el, freshId, show } from "./dom.js";
import { messages, numberField } from "./fields.js";
import { readCodeItem } from "./code_picker.js";
import { later } from "./page.js";
import { scanField } from "./scan.js";

const text = {
  tanks: "Which tanks",
  noTank: "Choose one tank or more.",
  tank: (/** @type {any} */ tank, /** @type {number} */ goblets) =>
    `${tank.name}: ${plural(goblets, "goblet")}`,
  goblets: "Which goblets",
  noGoblet: "Scan the plate of a goblet, or choose one below.",
  scan: "Scan plates, one after the other, or type their codes",
  chosen: (/** @type {number} */ count) => `${plural(count, "goblet")} chosen`,
  added: "Chosen.",
  again: "This one is chosen already.",
  notKnown: "No goblet in use has this plate.",
  canister: (/** @type {number} */ number) => `Canister ${number}`,
  confidence: "How sure it has to be",
  confidenceHint: "From 50 to below 100.",
  detect: "It has to find a bank in which so many of the goblets are wrong",
  detectHint: "Of each hundred goblets. Smaller figures need more counting.",
  says: (/** @type {any} */ one) =>
    `At least ${one.sample} of ${one.all} goblets are drawn by chance, from every tank its share. If every one of them is as booked, you can say: with ${one.sure} % certainty, fewer than ${one.detect} % of all goblets are wrong. If one is not, the report says how many at most.`,
  saysNot:
    "It cannot say which of the other goblets is right, nor by how many straws one is off.",
};

/** @param {any} tank @returns {any[]} */
export function gobletsIn(tank) {
  return tank.canisters.flatMap((/** @type {any} */ one) => one.goblets);
}

/** @param {any[]} tanks @returns {import("./fields.js").Field} */
export function tanksField(tanks) {
  const inputs = tanks.map((one) =>
    el("input", { type: "checkbox", value: one.id, id: freshId("tank") }),
  );
  const node = el(
    "fieldset",
    { class: "field choices" },
    el("legend", {}, text.tanks),
    el(
      "div",
      { class: "ticks" },
      tanks.map((one, i) =>
        el(
          "label",
          { class: "choice", for: inputs[i].id },
          inputs[i],
          el("span", {}, text.tank(one, gobletsIn(one).length)),
        ),
      ),
    ),
  );
  const said = messages(node);
  node.append(...said.nodes);
  const chosen = () => inputs.filter((one) => one.checked).map((one) => one.value);
  return {
    name: "tank_ids",
    node,
    complain: said.complain,
    warn: said.warn,
    raw: () => JSON.stringify(chosen()),
    setRaw(kept) {
      const ids = JSON.parse(kept);
      for (const one of inputs) one.checked = ids.includes(one.value);
    },
    focus: () => inputs[0]?.focus(),
    read: () =>
      chosen().length ? { ok: true, value: chosen() } : { ok: false, message: text.noTank },
  };
}

/** Goblets by their plates, or ticked tank by tank. @param {any[]} tanks @returns {import("./fields.js").Field} */
export function gobletsField(tanks) {
  const known = new Map(tanks.flatMap(gobletsIn).map((one) => [one.id, one]));
  /** @type {string[]} */
  let chosen = [];
  const list = el("ul", { class: "codes" });
  const count = el("p", { class: "hint", "aria-live": "polite" });
  const node = el("fieldset", { class: "field choices" }, el("legend", {}, text.goblets));
  const set = (/** @type {string[]} */ next) => {
    chosen = next;
    count.textContent = text.chosen(chosen.length);
    show(
      list,
      chosen.map((id) => {
        const item = readCodeItem(known.get(id).address, () => set(chosen.filter((one) => one !== id)));
        item.firstChild?.replaceWith(el("span", { class: "place" }, known.get(id).address));
        return item;
      }),
    );
    for (const tick of /** @type {NodeListOf<HTMLInputElement>} */ (node.querySelectorAll("input[data-goblet]")))
      tick.checked = chosen.includes(tick.value);
    node.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const scan = scanField({
    label: text.scan,
    wanted: ["goblet"],
    got: (code) => {
      const found = [...known.values()].find((one) => one.code === code);
      if (!found) return { kind: "refused", text: text.notKnown };
      const facts = [found.address];
      if (chosen.includes(found.id)) return { kind: "again", facts, text: text.again };
      set([...chosen, found.id]);
      return { kind: "done", facts, text: text.added };
    },
  });
  const said = messages(node);
  node.append(
    scan.node,
    ...tanks.map((tank) => later(tank.name, () => ticksOf(tank, () => chosen, set))),
    count,
    list,
    ...said.nodes,
  );
  set([]);
  return {
    name: "goblet_ids",
    node,
    complain: said.complain,
    warn: said.warn,
    raw: () => (chosen.length ? JSON.stringify(chosen) : ""),
    setRaw: (kept) => set(JSON.parse(kept).filter((/** @type {string} */ id) => known.has(id))),
    focus: scan.focus,
    read: () =>
      chosen.length ? { ok: true, value: chosen } : { ok: false, message: text.noGoblet },
  };
}

/** @param {any} tank @param {() => string[]} chosen @param {(ids: string[]) => void} set */
function ticksOf(tank, chosen, set) {
  return tank.canisters.map((/** @type {any} */ canister) =>
    el(
      "fieldset",
      { class: "field choices" },
      el("legend", {}, text.canister(canister.number)),
      el(
        "div",
        { class: "ticks" },
        canister.goblets.map((/** @type {any} */ one) => {
          const tick = el("input", {
            type: "checkbox",
            value: one.id,
            id: freshId("goblet"),
            "data-goblet": "",
            checked: chosen().includes(one.id),
          });
          tick.addEventListener("change", () =>
            set(tick.checked ? [...chosen(), one.id] : chosen().filter((id) => id !== one.id)),
          );
          return el("label", { class: "choice", for: tick.id }, tick, el("span", {}, one.address));
        }),
      ),
    ),
  );
}

/** @param {any} plan @param {number} goblets */
export function sampleFields(plan, goblets) {
  const confidence = numberField({
    name: "confidence_percent",
    label: text.confidence,
    hint: text.confidenceHint,
    unit: "%",
    required: true,
    least: 50,
    most: 99.99,
    value: String(plan.confidence_percent),
  });
  const detect = numberField({
    name: "detect_percent",
    label: text.detect,
    hint: text.detectHint,
    unit: "%",
    required: true,
    moreThan: 0,
    most: 100,
    value: String(plan.detect_percent),
  });
  const says = el("div", { class: "notice", "aria-live": "polite" });
  const tell = () => {
    const [sure, wrong] = [readDecimal(confidence.raw()), readDecimal(detect.raw())];
    const fits = sure.ok && wrong.ok && Number(sure.text) < 100 && Number(wrong.text) > 0;
    says.hidden = !fits;
    if (!fits) return;
    const sample = aboutSample(goblets, Number(wrong.text), Number(sure.text));
    const words = { sample, all: goblets, sure: showNumber(sure.text), detect: showNumber(wrong.text) };
    show(says, el("p", {}, text.says(words)), el("p", {}, text.saysNot));
  };
  tell();
  const node = el(
    "div",
    { class: "form-part" },
    el("div", { class: "pair pair-wide" }, confidence.node, detect.node),
    says,
  );
  node.addEventListener("input", tell);
  return { node, confidence, detect, tell };
}
