/** The batch's own thaw protocol: one or more baths, each with temperature and seconds. */

import { numberRowsField } from "./rows_field.js";

const text = {
  legend: "Thawing",
  hint: "As the laboratory’s card says. Remove all steps if it is not known yet.",
  water: "Water (°C)",
  seconds: "Seconds",
  add: "Add a step",
  wrong: "Each step needs a water temperature up to 100 °C and the seconds in it.",
};

/** 37 °C for 30 s is the usual default for 0.5 mL straws (common practice, no source). */
const USUAL = { water_c: "37", seconds: "30" };

/** @param {{start?: Record<string, string>[], hint?: string}} [options] */
export function thawField({ start = [USUAL], hint = text.hint } = {}) {
  return numberRowsField({
    name: "thaw",
    legend: text.legend,
    hint,
    add: text.add,
    wrong: text.wrong,
    start,
    columns: [
      { key: "water_c", label: text.water, least: 0.1, most: 100 },
      { key: "seconds", label: text.seconds, least: 1, most: 3600 },
    ],
    value: (rows) => (rows.length ? { steps: rows } : undefined),
  });
}
