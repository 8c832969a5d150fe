/** The fields of a tank: what stands on it, its dipstick table, what hangs in it. */

import { el } from "./dom.js";
import { choiceField, numberField, textField, tickField } from "./fields.js";
import { numberRowsField } from "./rows_field.js";

const text = {
  name: "Name",
  nameHint: "As people here call it.",
  short: "Short name",
  shortHint:
    "Goblets’ addresses begin with it, such as NORTH in NORTH-1-L2. Empty: made from the name.",
  capacity: "Nitrogen it holds",
  loss: "Rated loss, as its maker states",
  minimum: "Minimum level",
  quarantine: "A quarantine tank",
  quarantineHint: "Only straws on hold go in; nothing is planned from it.",
  table: "Dipstick table",
  tableHint:
    "At least two lines, from the bottom up: both columns rise. Between them it is interpolated.",
  tableWrong: "Each line needs a level and litres, and there have to be two lines or more.",
  level: "Level (cm)",
  litres: "Litres",
  addLine: "Add a line",
  layout: "What hangs in it",
  kind: "The canisters are",
  even: "All alike",
  mixed: "Of different kinds",
  canisters: "Canisters",
  goblets: "Goblets in each",
  straws: "Straws a goblet holds",
  evenHint: "Half of the goblets of a canister stand in the lower layer, half in the upper.",
  kinds: "Kinds of canisters",
  kindsHint: "One row for each kind, in the order in which they are numbered.",
  kindsWrong: "Each row needs whole numbers, and at least one canister with a goblet.",
  lower: "Goblets, lower layer",
  upper: "Goblets, upper layer",
  addKind: "Add a kind",
};

/** @param {any} was a tank, or {} */
function dipstickField(was) {
  const start = was.calibration?.map((/** @type {any} */ one) => ({
    level_cm: String(one.level_cm),
    litres: String(one.litres),
  }));
  return numberRowsField({
    name: "calibration",
    legend: text.table,
    hint: text.tableHint,
    add: text.addLine,
    wrong: text.tableWrong,
    least: 2,
    start: start ?? [
      { level_cm: "0", litres: "0" },
      { level_cm: "", litres: "" },
    ],
    columns: [
      { key: "level_cm", label: text.level },
      { key: "litres", label: text.litres },
    ],
    value: (rows) => rows,
  });
}

/** @param {any} was a tank, or {} */
export function tankFields(was) {
  return {
    name: textField({
      name: "name",
      label: text.name,
      hint: text.nameHint,
      required: true,
      value: was.name,
    }),
    short: textField({
      name: "short_name",
      label: text.short,
      hint: text.shortHint,
      value: was.short_name,
      props: { autocapitalize: "characters", maxlength: 8 },
    }),
    capacity: numberField({
      name: "capacity_litres",
      label: text.capacity,
      unit: "litres",
      required: true,
      moreThan: 0,
      value: was.capacity_litres,
    }),
    loss: numberField({
      name: "rated_loss_litres_per_day",
      label: text.loss,
      unit: "litres a day",
      required: true,
      moreThan: 0,
      value: was.rated_loss_litres_per_day,
    }),
    minimum: numberField({
      name: "minimum_level_cm",
      label: text.minimum,
      unit: "cm",
      required: true,
      least: 0,
      value: was.minimum_level_cm,
    }),
    quarantine: tickField({
      name: "quarantine",
      label: text.quarantine,
      hint: text.quarantineHint,
      value: was.quarantine ? "yes" : "",
    }),
    table: dipstickField(was),
  };
}

/** @param {ReturnType<typeof tankFields>} f */
export function tankLayout(f) {
  return [
    el(
      "fieldset",
      { class: "fieldset" },
      el("legend", {}, "The tank"),
      f.name.node,
      f.short.node,
      el("div", { class: "pair pair-wide" }, f.capacity.node, f.loss.node),
      f.minimum.node,
      f.quarantine.node,
    ),
    f.table.node,
  ];
}

/** What hangs in a new tank: even, or kind by kind. */
export function layoutFields() {
  const kind = choiceField({
    name: "layout_kind",
    label: text.kind,
    required: true,
    value: "even",
    options: [
      { value: "even", text: text.even, hint: text.evenHint },
      { value: "mixed", text: text.mixed },
    ],
  });
  const whole = { required: true, whole: true, least: 1 };
  const even = [
    numberField({ name: "layout.canisters", label: text.canisters, ...whole }),
    numberField({ name: "layout.goblets_per_canister", label: text.goblets, ...whole }),
    numberField({ name: "layout.straws_per_goblet", label: text.straws, ...whole }),
  ];
  const mixed = numberRowsField({
    name: "layout",
    legend: text.kinds,
    hint: text.kindsHint,
    add: text.addKind,
    wrong: text.kindsWrong,
    least: 1,
    start: [{ canisters: "", lower: "", upper: "0", straws: "" }],
    columns: [
      { key: "canisters", label: text.canisters, whole: true, least: 1 },
      { key: "lower", label: text.lower, whole: true },
      { key: "upper", label: text.upper, whole: true },
      { key: "straws", label: text.straws, whole: true, least: 1 },
    ],
    value: (rows) => ({ canisters: rows.flatMap(canistersOf) }),
  });
  const evenNode = el(
    "div",
    { class: "pair" },
    even.map((one) => one.node),
  );
  const node = el(
    "fieldset",
    { class: "fieldset" },
    el("legend", {}, text.layout),
    kind.node,
    evenNode,
    mixed.node,
  );
  const draw = () => {
    evenNode.hidden = kind.raw() === "mixed";
    mixed.node.hidden = kind.raw() !== "mixed";
  };
  node.addEventListener("input", draw);
  draw();
  return { node, draw, fields: () => [kind, ...(kind.raw() === "mixed" ? [mixed] : even)] };
}

/** @param {Record<string, string>} row */
function canistersOf(row) {
  const goblets = (/** @type {"lower"|"upper"} */ tier) =>
    Array.from({ length: Number(row[tier]) }, () => ({
      tier,
      capacity_straws: Number(row.straws),
    }));
  return Array.from({ length: Number(row.canisters) }, () => ({
    goblets: [...goblets("lower"), ...goblets("upper")],
  }));
}
