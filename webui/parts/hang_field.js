/** Where something is to hang: a tank, and in it a canister, chosen from the map of the bank. */

import { plural } from "../logic/numbers.js";
import { gauge, sumStraws, whoIsIn } from "./bank_map.js";
import { el, show } from "./dom.js";
import { choiceField } from "./fields.js";
import { markBadge } from "./mark.js";
import { badge } from "./page.js";

const text = {
  tank: "Which tank",
  canister: (/** @type {any} */ tank) => `Which canister of ${tank.name}`,
  chooseTank: "Choose a tank.",
  chooseCanister: "Choose a canister.",
  number: (/** @type {any} */ one) => `Canister ${one.number}`,
  goblets: (/** @type {number} */ count) => plural(count, "goblet"),
  quarantine: "quarantine",
  none: "No other canister hangs in this tank. Choose another tank.",
};

/** @typedef {{contents: Map<string, any[]>, marks: Map<string, any>}} Inside */

/** @param {any[]} goblets @param {Inside} inside */
function inThem(goblets, { contents, marks }) {
  const all = goblets.flatMap((one) => contents.get(one.id) ?? []);
  const room = goblets.reduce((sum, one) => sum + one.capacity_straws, 0);
  return [
    gauge(sumStraws(all), room),
    all.length > 0 &&
      el(
        "span",
        { class: "goblet-marks" },
        whoIsIn(all).map((one) =>
          markBadge(marks.get(one.stallion_id), { small: true, colour: one.straw_colour }),
        ),
      ),
  ];
}

/** @param {any} tank @param {Inside} inside */
function tankOption(tank, inside) {
  const goblets = tank.canisters.flatMap((/** @type {any} */ one) => one.goblets);
  return el(
    "span",
    { class: "hang-option" },
    el(
      "span",
      { class: "goblet-head" },
      el("strong", {}, tank.name),
      tank.quarantine && badge(text.quarantine, "warn"),
    ),
    inThem(goblets, inside),
  );
}

/** @param {any} canister @param {Inside} inside */
function canisterOption(canister, inside) {
  return el(
    "span",
    { class: "hang-option" },
    el(
      "span",
      { class: "goblet-head" },
      el("strong", {}, text.number(canister)),
      el("span", {}, text.goblets(canister.goblets.length)),
    ),
    inThem(canister.goblets, inside),
  );
}

/** A choice whose options are drawn. @param {any} spec */
function drawnChoice(spec) {
  return choiceField({ required: true, ...spec });
}

/**
 * @param {{tanks: any[], inside: Inside, withCanister: () => boolean,
 *   leaveOut: (canister: any) => boolean, changed: () => void}} spec
 *   `withCanister`: whether a tank alone is not yet a place
 */
export function hangField({ tanks, inside, withCanister, leaveOut, changed }) {
  const below = el("div");
  const tankField = drawnChoice({
    name: "tank_id",
    label: text.tank,
    missing: text.chooseTank,
    options: tanks.map((one) => ({ value: one.id, text: tankOption(one, inside) })),
  });
  /** @type {import("./fields.js").Field|null} */
  let canisterField = null;
  const tank = () => tanks.find((one) => one.id === tankField.raw()) ?? null;
  const draw = () => {
    const chosen = tank();
    canisterField = null;
    show(below);
    if (!chosen || !withCanister()) return;
    const options = chosen.canisters.filter((/** @type {any} */ one) => !leaveOut(one));
    if (!options.length) return show(below, el("p", { class: "notice notice-warn" }, text.none));
    canisterField = drawnChoice({
      name: "canister_id",
      label: text.canister(chosen),
      missing: text.chooseCanister,
      options: options.map((/** @type {any} */ one) => ({
        value: one.id,
        text: canisterOption(one, inside),
      })),
    });
    show(below, canisterField.node);
  };
  tankField.node.addEventListener("change", () => {
    draw();
    changed();
  });
  below.addEventListener("change", changed);
  return {
    node: el("div", { class: "form-part" }, tankField.node, below),
    draw,
    fields: () => (canisterField ? [tankField, canisterField] : [tankField]),
    /** The tank and the canister that are chosen so far. */
    chosen() {
      const canisters = tank()?.canisters ?? [];
      const id = canisterField?.raw();
      return {
        tank: tank(),
        canister: canisters.find((/** @type {any} */ one) => one.id === id) ?? null,
      };
    },
  };
}
