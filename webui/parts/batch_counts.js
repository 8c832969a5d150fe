/**
 * How many straws of a withdrawal: one number, or one for each batch while straws of several are
 * out, since a number alone would not say which.
 */

import { groupedCode } from "../logic/codes.js";
import { el } from "./dom.js";
import { numberField } from "./fields.js";
import { readFields } from "./form.js";

const text = {
  ofBatch: (/** @type {string} */ label, /** @type {string} */ code) =>
    `${label}, batch ${groupedCode(code)}`,
};

/** Straws by batch. @param {any[]} straws @returns {any[][]} */
export function batchesOf(straws) {
  const found = new Map();
  for (const one of straws) found.set(one.batch_code, [...(found.get(one.batch_code) ?? []), one]);
  return [...found.values()];
}

/**
 * Codes of so many straws of each batch, after those that are spoken for.
 * @param {any[][]} batches @param {number[]} counts @param {number[]} [taken]
 */
export function codesOf(batches, counts, taken = []) {
  return batches.flatMap((straws, i) => {
    const first = taken[i] ?? 0;
    const some = straws.slice(first, first + counts[i]);
    return some.map((one) => one.code).filter(Boolean);
  });
}

/** @param {number[]} counts */
export function total(counts) {
  return counts.reduce((sum, count) => sum + count, 0);
}

/**
 * Reads as the counts, batch by batch.
 * @param {{name: string, label: string, hint?: string, batches: any[][], all: boolean}} spec
 *   `all`: begins with all of them, otherwise with none
 * @returns {import("./fields.js").Field}
 */
export function batchCounts({ name, label, hint, batches, all }) {
  const fields = batches.map((straws, i) =>
    numberField({
      name: `${name}_${i}`,
      label: batches.length > 1 ? text.ofBatch(label, straws[0].batch_code) : label,
      hint: i === 0 ? hint : undefined,
      required: true,
      whole: true,
      least: 0,
      most: straws.length,
      value: String(all ? straws.length : 0),
    }),
  );
  return {
    name,
    node: el(
      "div",
      { class: "form-part" },
      fields.map((one) => one.node),
    ),
    complain(message) {
      for (const one of fields) one.complain(null);
      if (message) (fields.find((one) => !one.read().ok) ?? fields[0]).complain(message);
    },
    warn: (message) => fields[0].warn(message),
    focus: () => (fields.find((one) => !one.read().ok) ?? fields[0]).focus(),
    raw: () => JSON.stringify(fields.map((one) => one.raw())),
    setRaw(kept) {
      JSON.parse(kept).forEach((/** @type {string} */ raw, /** @type {number} */ i) =>
        fields[i]?.setRaw(raw),
      );
    },
    read() {
      const { values, wrong } = readFields(fields, { quiet: true });
      const found = wrong[0]?.read();
      if (found && !found.ok) return found;
      return { ok: true, value: fields.map((one) => values[one.name]) };
    },
  };
}
