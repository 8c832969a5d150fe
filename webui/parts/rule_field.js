/** The dose rule as a field: a fixed number of straws, or a target of progressively motile sperm. */

import { el } from "./dom.js";
import { choiceField, numberField } from "./fields.js";

const text = {
  kind: "How many straws make a dose?",
  straws: "A fixed number of straws",
  sperm: "As many straws as hold a number of motile sperm",
  spermHint: "Uses the batch’s own post-thaw result.",
  count: "Straws a dose",
  many: "More than 16 straws a dose is unusual. Is it meant?",
  million: "Progressively motile sperm a dose",
  minimum: "Least progressive motility after thawing",
  minimumHint: "A batch below it is not planned.",
};

/** @param {any} rule the present rule @returns {import("./fields.js").Field} */
export function ruleField(rule) {
  const kind = choiceField({
    name: "dose_rule.kind",
    label: text.kind,
    required: true,
    value: rule?.kind ?? "straws",
    options: [
      { value: "straws", text: text.straws },
      { value: "sperm", text: text.sperm, hint: text.spermHint },
    ],
  });
  const count = numberField({
    name: "dose_rule.straws",
    label: text.count,
    required: true,
    whole: true,
    least: 1,
    value: rule?.straws,
  });
  const million = numberField({
    name: "dose_rule.progressive_million",
    label: text.million,
    unit: "million",
    required: true,
    moreThan: 0,
    value: rule?.progressive_million,
  });
  const minimum = numberField({
    name: "dose_rule.minimum_post_thaw_percent",
    label: text.minimum,
    unit: "%",
    required: true,
    least: 0,
    most: 100,
    hint: text.minimumHint,
    value: rule?.minimum_post_thaw_percent,
  });
  const partsOf = () => (kind.raw() === "sperm" ? [million, minimum] : [count]);
  const node = el("div", { class: "form-part" }, kind.node, count.node, million.node, minimum.node);
  const draw = () => {
    for (const part of [count, million, minimum]) part.node.hidden = !partsOf().includes(part);
    const typed = count.read();
    count.warn(typed.ok && typed.value > 16 ? text.many : null);
  };
  node.addEventListener("input", draw);
  draw();
  const each = (/** @type {(field: import("./fields.js").Field) => void} */ work) =>
    [kind, count, million, minimum].forEach(work);
  return {
    name: "dose_rule",
    node,
    warn: kind.warn,
    focus: () => partsOf()[0].focus(),
    complain(message) {
      each((field) => field.complain(null));
      if (message) partsOf()[0].complain(message);
    },
    raw: () => JSON.stringify([kind.raw(), count.raw(), million.raw(), minimum.raw()]),
    setRaw(kept) {
      const values = JSON.parse(kept);
      [kind, count, million, minimum].forEach((field, i) => field.setRaw(values[i]));
      draw();
    },
    read() {
      const found = partsOf().map((field) => ({ field, ...field.read() }));
      const wrong = found.find((one) => !one.ok);
      if (wrong) return { ok: false, message: /** @type {any} */ (wrong).message };
      const values = Object.fromEntries(
        found
          .map((one) => [one.field.name.split(".")[1], /** @type {any} */ (one).value])
          .filter(([, value]) => value !== undefined),
      );
      return { ok: true, value: { kind: kind.raw(), ...values } };
    },
  };
}
