/** The dose rule as a field: a fixed number of straws, or a target of progressively motile sperm. */

import { el } from "./dom.js";
import { choiceField, numberField } from "./fields.js";
import { readFields } from "./form.js";

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

/** @param {any} rule the present rule */
function ruleParts(rule) {
  return {
    kind: choiceField({
      name: "kind",
      label: text.kind,
      required: true,
      value: rule?.kind ?? "straws",
      options: [
        { value: "straws", text: text.straws },
        { value: "sperm", text: text.sperm, hint: text.spermHint },
      ],
    }),
    count: numberField({
      name: "straws",
      label: text.count,
      required: true,
      whole: true,
      least: 1,
      value: rule?.straws,
    }),
    million: numberField({
      name: "progressive_million",
      label: text.million,
      unit: "million",
      required: true,
      moreThan: 0,
      value: rule?.progressive_million,
    }),
    minimum: numberField({
      name: "minimum_post_thaw_percent",
      label: text.minimum,
      unit: "%",
      required: true,
      least: 0,
      most: 100,
      hint: text.minimumHint,
      value: rule?.minimum_post_thaw_percent,
    }),
  };
}

/** @param {any} rule the present rule @returns {import("./fields.js").Field} */
export function ruleField(rule) {
  const { kind, count, million, minimum } = ruleParts(rule);
  const all = [kind, count, million, minimum];
  const partsOf = () => (kind.raw() === "sperm" ? [million, minimum] : [count]);
  const node = el(
    "div",
    { class: "form-part" },
    all.map((part) => part.node),
  );
  const draw = () => {
    for (const part of [count, million, minimum]) part.node.hidden = !partsOf().includes(part);
    const typed = count.read();
    count.warn(typed.ok && typed.value > 16 ? text.many : null);
  };
  node.addEventListener("input", draw);
  draw();
  return {
    name: "dose_rule",
    node,
    warn: kind.warn,
    focus: () => partsOf()[0].focus(),
    complain(message) {
      for (const part of all) part.complain(null);
      if (message) partsOf()[0].complain(message);
    },
    raw: () => JSON.stringify(all.map((part) => part.raw())),
    setRaw(kept) {
      const values = JSON.parse(kept);
      all.forEach((part, i) => part.setRaw(values[i]));
      draw();
    },
    read() {
      const { values, wrong } = readFields(partsOf(), { quiet: true });
      const found = wrong[0]?.read();
      if (found && !found.ok) return found;
      return { ok: true, value: { kind: kind.raw(), ...values } };
    },
  };
}
