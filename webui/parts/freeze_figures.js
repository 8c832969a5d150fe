/**
 * What a freeze makes, while it is typed: first reckoned here, then by the service, whose warnings
 * (odd, kept) and refusals (cannot be) are put beside the fields they are about.
 */

import { freezeFigures, wholeDoses } from "../logic/doses.js";
import { showNumber } from "../logic/numbers.js";
import { call } from "../net/api.js";
import { el, show } from "./dom.js";
import { readFields, spread } from "./form.js";

const text = {
  title: "What this makes",
  straws: "Straws it fills",
  volume: "Fill up to",
  extender: "of it extender",
  total: "Sperm in all",
  progressive: "of it progressive",
  perStraw: "Progressive in a thawed straw",
  perDose: "Straws a dose",
  doses: "Doses",
  waiting: "The figures appear as you type.",
  local: "No answer from the station’s computer: these figures are reckoned on this device.",
  million: "million",
  ml: "mL",
};

/** @param {string} name @param {any} value @param {string} [unit] */
function figure(name, value, unit) {
  return el(
    "div",
    { class: "figure" },
    el("dt", {}, name),
    el("dd", {}, value, unit && el("small", {}, ` ${unit}`)),
  );
}

/** @param {any} figures @param {number|null} stored */
function figureList(figures, stored) {
  const shown = (/** @type {any} */ value) => value !== null && value !== undefined;
  const doses =
    stored && figures.straws_per_dose ? wholeDoses(stored, figures.straws_per_dose) : figures.doses;
  return el(
    "dl",
    { class: "figures" },
    figure(text.straws, showNumber(figures.straws_possible)),
    figure(text.volume, showNumber(figures.volume_ml), text.ml),
    shown(figures.extender_ml) &&
      figures.extender_ml !== figures.volume_ml &&
      figure(text.extender, showNumber(figures.extender_ml), text.ml),
    figure(
      text.total,
      showNumber(figures.total_million, { decimals: 0, down: true }),
      text.million,
    ),
    shown(figures.progressive_million) &&
      figure(
        text.progressive,
        showNumber(figures.progressive_million, { decimals: 0, down: true }),
        text.million,
      ),
    shown(figures.progressive_million_per_straw) &&
      figure(
        text.perStraw,
        showNumber(figures.progressive_million_per_straw, { decimals: 1, down: true }),
        text.million,
      ),
    shown(figures.straws_per_dose) && figure(text.perDose, showNumber(figures.straws_per_dose)),
    shown(doses) && figure(text.doses, showNumber(doses)),
  );
}

/** The part of the request that the calculation takes. @param {any} values @param {string} stallionId */
function calculationOf(values, stallionId) {
  const { collection, straw, post_thaw, recovery_percent } = values;
  const complete =
    collection?.volume_ml &&
    collection?.concentration_million_per_ml &&
    collection?.progressive_motility_percent &&
    straw?.volume_ml &&
    straw?.concentration_million_per_ml;
  if (!complete) return null;
  return {
    collection,
    straw,
    ...(post_thaw?.progressive_motility_percent ? { post_thaw } : {}),
    ...(recovery_percent ? { recovery_percent } : {}),
    ...(stallionId ? { stallion_id: stallionId } : {}),
  };
}

/** @param {any} values  as the local arithmetic takes them @param {() => any} rule */
function localOf(values, rule) {
  return freezeFigures(
    {
      volume_ml: values.collection?.volume_ml,
      concentration_million_per_ml: values.collection?.concentration_million_per_ml,
      progressive_motility_percent: values.collection?.progressive_motility_percent,
      straw_volume_ml: values.straw?.volume_ml,
      straw_million_per_ml: values.straw?.concentration_million_per_ml,
      recovery_percent: values.recovery_percent,
      post_thaw_percent: values.post_thaw?.progressive_motility_percent,
    },
    rule(),
  );
}

/**
 * @param {{fields: import("./fields.js").Field[], stallionId: () => string, rule: () => any}} spec
 */
export function liveFigures({ fields, stallionId, rule }) {
  const place = el("div", {}, el("p", { class: "hint" }, text.waiting));
  const notes = el("div", { class: "form-part" });
  const node = el(
    "section",
    { class: "card figures-card", "aria-label": text.title },
    el("h2", {}, text.title),
    place,
    notes,
  );
  let turn = 0;
  /** Reckon again; the last one asked wins. */
  const update = async () => {
    turn += 1;
    const mine = turn;
    const { values } = readFields(fields, { quiet: true });
    const local = localOf(values, rule);
    const asked = calculationOf(values, stallionId());
    if (local.straws_possible !== null) show(place, figureList(local, values.straws ?? null));
    if (!asked) return;
    try {
      const { data } = await call("POST", "/freezes/calculation", { body: asked });
      if (mine !== turn) return;
      show(place, figureList(data, values.straws ?? null));
      putWarnings(fields, data.warnings, notes);
    } catch (problem) {
      if (mine === turn) putProblem(fields, problem, notes);
    }
  };
  return { node, update };
}

/** @param {import("./fields.js").Field[]} fields @param {any[]} warnings @param {HTMLElement} notes */
function putWarnings(fields, warnings, notes) {
  /** @type {Map<any, string[]>} */
  const told = new Map();
  const loose = [];
  for (const warning of warnings) {
    const field = fields.find((one) => one.name === warning.field);
    const words = warning.message ?? warning.detail ?? String(warning);
    if (field && field.raw()) told.set(field, [...(told.get(field) ?? []), words]);
    else loose.push(words);
  }
  for (const field of fields) {
    field.warn(told.get(field)?.join(" ") ?? null);
    if (field.read().ok) field.complain(null);
  }
  show(
    notes,
    loose.map((words) => el("p", { class: "field-warning" }, words)),
  );
}

/** @param {import("./fields.js").Field[]} fields @param {any} problem @param {HTMLElement} notes */
function putProblem(fields, problem, notes) {
  if (problem.unanswered) {
    show(notes, el("p", { class: "field-warning" }, text.local));
    return;
  }
  const { left } = spread(fields, problem.errors ?? []);
  const words = problem.errors?.length ? left.map((one) => one.message) : [problem.message];
  show(
    notes,
    words.map((one) => el("p", { class: "problem" }, one)),
  );
}
