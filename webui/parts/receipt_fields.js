/** The fields of straws that come in, named as in the request, and how they stand on the page. */

import { COLOUR_NAMES } from "../logic/marks.js";
import { el } from "./dom.js";
import {
  areaField,
  choiceField,
  dayField,
  momentField,
  numberField,
  suggestField,
  textField,
} from "./fields.js";
import { disclosure } from "./page.js";
import { thawField } from "./thaw_field.js";

const text = {
  kind: "Where do they come from?",
  kinds: [
    {
      value: "opening",
      text: "They were here before this book",
      hint: "Old stock, counted or read from a list",
    },
    {
      value: "received",
      text: "Somebody sent them",
      hint: "Another station, a stud, an owner",
    },
  ],
  from: "From whom",
  straws: "How many straws",
  marks: "What stands on the straws",
  marksHint: "Letter by letter, as you read it. Leave it empty if it cannot be read.",
  labels: "Do they have labels of this bank?",
  labelled: [
    { value: "", text: "No", hint: "They go by count; their mark and their place tell them apart" },
    { value: "yes", text: "They get them now", hint: "A code is made for each straw" },
  ],
  known: "What is known of them",
  knownHint: "All of it may stay empty. Nothing is guessed, and the batch says what is not known.",
  collectedOn: "Collected on",
  where: "Where they were collected",
  approval: "Approval number of that place",
  volume: "Straw size",
  concentration: "In the straw",
  motility: "Progressive after thawing",
  minutes: "Measured after",
  colour: "Straw colour",
  owner: "Whose they are",
  ownerHint: "Leave it empty for the station’s common stock.",
  thawHint: "As the card of the laboratory that froze them says. No step means: not known.",
  holdOrNote: "Hold, day they came, note",
  holdReason: "Hold them because",
  holdReasonHint: "Papers or tests that are missing, say. Until then no dose is planned from them.",
  holdUntil: "Hold until",
  came: "When they came",
  cameHint: "Leave it empty for now.",
  note: "Note",
};

function firstFields() {
  return {
    kind: choiceField({
      name: "kind",
      label: text.kind,
      required: true,
      value: "opening",
      options: text.kinds,
    }),
    from: textField({ name: "from", label: text.from }),
    straws: numberField({
      name: "straws",
      label: text.straws,
      required: true,
      whole: true,
      least: 1,
      most: 2000,
    }),
    marks: textField({ name: "marks_as_read", label: text.marks, hint: text.marksHint }),
    labels: choiceField({ name: "coded", label: text.labels, options: text.labelled, value: "" }),
  };
}

/** @param {string[]} owners */
function knownFields(owners) {
  return {
    collectedOn: dayField({ name: "collected_on", label: text.collectedOn }),
    where: textField({ name: "collected_where", label: text.where }),
    approval: textField({ name: "approval_number", label: text.approval }),
    volume: numberField({ name: "straw.volume_ml", label: text.volume, unit: "mL", moreThan: 0 }),
    concentration: numberField({
      name: "straw.concentration_million_per_ml",
      label: text.concentration,
      unit: "million per mL",
      moreThan: 0,
    }),
    motility: numberField({
      name: "post_thaw.progressive_motility_percent",
      label: text.motility,
      unit: "%",
      least: 0,
      most: 100,
    }),
    minutes: numberField({
      name: "post_thaw.minutes",
      label: text.minutes,
      unit: "minutes",
      whole: true,
      least: 0,
    }),
    thaw: thawField({ start: [], hint: text.thawHint }),
    colour: suggestField({
      name: "straw_colour",
      label: text.colour,
      suggestions: COLOUR_NAMES,
    }),
    owner: suggestField({
      name: "owner",
      label: text.owner,
      hint: text.ownerHint,
      suggestions: owners,
    }),
  };
}

function lastFields() {
  return {
    holdReason: textField({
      name: "hold_reason",
      label: text.holdReason,
      hint: text.holdReasonHint,
    }),
    holdUntil: dayField({ name: "hold_until", label: text.holdUntil }),
    came: momentField({ name: "occurred_at", label: text.came, hint: text.cameHint }),
    note: areaField({ name: "note", label: text.note }),
  };
}

/** All of them, by short names. @param {string[]} owners who owns straws here already */
export function receiptFields(owners) {
  return { ...firstFields(), ...knownFields(owners), ...lastFields() };
}

/**
 * @param {ReturnType<typeof receiptFields>} f
 * @param {{who: Node, places: Node}} others
 */
export function receiptLayout(f, { who, places }) {
  const pair = (/** @type {import("./fields.js").Field[]} */ ...fields) =>
    el(
      "div",
      { class: "pair" },
      fields.map((one) => one.node),
    );
  return [
    f.kind.node,
    f.from.node,
    who,
    f.straws.node,
    f.marks.node,
    places,
    f.labels.node,
    disclosure(
      text.known,
      el("p", { class: "hint" }, text.knownHint),
      f.collectedOn.node,
      pair(f.where, f.approval),
      pair(f.volume, f.concentration),
      pair(f.motility, f.minutes),
      f.thaw.node,
      pair(f.colour, f.owner),
    ),
    disclosure(text.holdOrNote, f.holdReason.node, f.holdUntil.node, f.came.node, f.note.node),
  ];
}
