/** The fields of a freeze, named as in the request, and how they stand on the page. */

import { daysInStore, today, zone } from "../net/session.js";
import { COLOUR_NAMES } from "../logic/marks.js";
import { plural } from "../logic/numbers.js";
import { addDays, localDay, showDay } from "../logic/times.js";
import { dayShortcut } from "./day_shortcut.js";
import { el } from "./dom.js";
import {
  areaField,
  dayField,
  momentField,
  numberField,
  suggestField,
  textField,
} from "./fields.js";
import { disclosure } from "./page.js";
import { thawField } from "./thaw_field.js";

const text = {
  collection: "The collection",
  collectedAt: "Collected at",
  where: "Where it was collected",
  whereHint: "Leave empty for this station.",
  approval: "Approval number of that place",
  volume: "Gel-free volume",
  concentration: "Concentration",
  motility: "Progressive motility",
  straws: "The straws",
  strawVolume: "Straw size",
  strawConcentration: "In the straw",
  recovery: "Recovered after centrifuging",
  recoveryHint: "Empty counts as 100 %.",
  extender: "Extender",
  colour: "Straw colour",
  counts: "What became of them",
  stored: "Straws to store",
  spoiled: "Spoiled",
  tested: "Thawed for the test",
  postThaw: "After thawing",
  postThawHint: "If it is not measured yet, leave it empty and add it to the batch later.",
  postThawMotility: "Progressive motility",
  minutes: "Measured after",
  more: "Hold, note and other details",
  hold: "Hold until",
  holdHint: "Until then no dose is planned from this batch; on that day it is free.",
  fullDay: (/** @type {number} */ days) => `${plural(days, "day")} from collection`,
  fullAlready: (/** @type {string} */ day) => `That was ${day}: nothing to wait for.`,
  noCollection: "Say first when it was collected.",
  note: "Note",
};

const PERCENT = { unit: "%", least: 0, most: 100 };

/** @typedef {{collectedAt: string, straws?: number|null, colour?: string|null, strawVolume?: string|number|null}} Start */

/** @param {Start} start */
function collectionFields(start) {
  return {
    collectedAt: momentField({
      name: "collected_at",
      label: text.collectedAt,
      required: true,
      value: start.collectedAt,
    }),
    volume: numberField({
      name: "collection.volume_ml",
      label: text.volume,
      unit: "mL",
      required: true,
      moreThan: 0,
    }),
    concentration: numberField({
      name: "collection.concentration_million_per_ml",
      label: text.concentration,
      unit: "million per mL",
      required: true,
      moreThan: 0,
    }),
    motility: numberField({
      name: "collection.progressive_motility_percent",
      label: text.motility,
      required: true,
      ...PERCENT,
    }),
    where: textField({ name: "collected_where", label: text.where, hint: text.whereHint }),
    approval: textField({ name: "approval_number", label: text.approval }),
  };
}

/** @param {Start} start */
function strawFields(start) {
  return {
    strawVolume: numberField({
      name: "straw.volume_ml",
      label: text.strawVolume,
      unit: "mL",
      required: true,
      moreThan: 0,
      value: String(start.strawVolume ?? "0.5"),
    }),
    strawConcentration: numberField({
      name: "straw.concentration_million_per_ml",
      label: text.strawConcentration,
      unit: "million per mL",
      required: true,
      moreThan: 0,
    }),
    recovery: numberField({
      name: "recovery_percent",
      label: text.recovery,
      hint: text.recoveryHint,
      unit: "%",
      moreThan: 0,
      most: 100,
    }),
    extender: textField({ name: "extender", label: text.extender }),
    colour: suggestField({
      name: "straw_colour",
      label: text.colour,
      value: start.colour ?? undefined,
      suggestions: COLOUR_NAMES,
    }),
  };
}

/** @param {Start} start */
function resultFields(start) {
  return {
    straws: numberField({
      name: "straws",
      label: text.stored,
      required: true,
      whole: true,
      least: 0,
      value: start.straws ? String(start.straws) : undefined,
    }),
    spoiled: numberField({ name: "straws_spoiled", label: text.spoiled, whole: true, least: 0 }),
    tested: numberField({ name: "straws_tested", label: text.tested, whole: true, least: 0 }),
    postThaw: numberField({
      name: "post_thaw.progressive_motility_percent",
      label: text.postThawMotility,
      ...PERCENT,
    }),
    minutes: numberField({
      name: "post_thaw.minutes",
      label: text.minutes,
      unit: "minutes",
      whole: true,
      least: 0,
    }),
    thaw: thawField(),
    hold: dayField({ name: "hold_until", label: text.hold, hint: text.holdHint }),
    note: areaField({ name: "note", label: text.note }),
  };
}

/** The day on which it has been long enough in store. @param {{ok: boolean, value?: string}} collected */
function fullDay({ ok, value }) {
  if (!ok || !value) return { odd: text.noCollection };
  const day = addDays(localDay(new Date(value), zone()), daysInStore());
  return day > today() ? { day } : { odd: text.fullAlready(showDay(day)) };
}

/** All of them, by short names. @param {Start} start */
export function freezeFields(start) {
  const fields = { ...collectionFields(start), ...strawFields(start), ...resultFields(start) };
  dayShortcut(fields.hold, text.fullDay(daysInStore()), () => fullDay(fields.collectedAt.read()));
  return fields;
}

/** @param {string} legend @param {...import("./dom.js").Children} content */
function group(legend, ...content) {
  return el("fieldset", { class: "fieldset" }, el("legend", {}, legend), ...content);
}

/**
 * @param {ReturnType<typeof freezeFields>} f
 * @param {{who: Node, figures: Node, places: Node}} others
 */
export function freezeLayout(f, { who, figures, places }) {
  const pair = (/** @type {import("./fields.js").Field[]} */ ...fields) =>
    el(
      "div",
      { class: "pair" },
      fields.map((one) => one.node),
    );
  return [
    group(
      text.collection,
      who,
      f.collectedAt.node,
      pair(f.volume, f.concentration),
      f.motility.node,
    ),
    group(
      text.straws,
      pair(f.strawVolume, f.strawConcentration),
      f.recovery.node,
      pair(f.extender, f.colour),
    ),
    group(
      text.postThaw,
      el("p", { class: "hint" }, text.postThawHint),
      pair(f.postThaw, f.minutes),
    ),
    figures,
    group(text.counts, f.straws.node, pair(f.spoiled, f.tested)),
    places,
    f.thaw.node,
    disclosure(text.more, f.hold.node, f.where.node, f.approval.node, f.note.node),
  ];
}
