/** The station's own record: its name and clocks stand on every screen, its numbers on every mark. */

import { call } from "../net/api.js";
import { iMay, loadStation } from "../net/session.js";
import { el } from "../parts/dom.js";
import { changesPart } from "../parts/changes.js";
import { readVersion } from "../parts/conflict.js";
import { selectField, suggestField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { factList, page } from "../parts/page.js";

const text = {
  title: "The station",
  lead: "These stand on every screen and every mark.",
  labels: {
    name: "Name",
    country: "Country",
    approval_number: "Approval number",
    processing_approval_number: "Approval number of the processing establishment",
    time_zone: "Time zone",
    mark_date_format: "How dates are written on straws",
    level_unit: "How levels are read",
  },
  hints: {
    country: "Two letters, such as IE",
    processing_approval_number: "Only where another establishment processes.",
    time_zone: "Such as Europe/Dublin. Times on all screens follow it.",
  },
  units: [
    { value: "cm", text: "cm on the dipstick" },
    { value: "litres", text: "litres" },
    { value: "kg", text: "kg on a scale" },
  ],
  formats: ["ddmmyy", "yymmdd", "dd/mm/yy", "yy/mm/dd", "dd.mm.yy", "yy.mm.dd"],
  save: "Save",
  saved: "Saved.",
};

const NAMES = /** @type {(keyof typeof text.labels)[]} */ (Object.keys(text.labels));

/** @param {any} was */
function fieldsFor(was) {
  const { labels, hints } = text;
  const zones =
    typeof Intl.supportedValuesOf === "function" ? Intl.supportedValuesOf("timeZone") : [];
  return [
    textField({ name: "name", label: labels.name, required: true, value: was.name }),
    textField({
      name: "country",
      label: labels.country,
      hint: hints.country,
      value: was.country,
      props: { autocapitalize: "characters", maxlength: 2 },
    }),
    textField({
      name: "approval_number",
      label: labels.approval_number,
      value: was.approval_number,
    }),
    textField({
      name: "processing_approval_number",
      label: labels.processing_approval_number,
      hint: hints.processing_approval_number,
      value: was.processing_approval_number,
    }),
    suggestField({
      name: "time_zone",
      label: labels.time_zone,
      hint: hints.time_zone,
      required: true,
      value: was.time_zone,
      suggestions: zones,
    }),
    selectField({
      name: "mark_date_format",
      label: labels.mark_date_format,
      required: true,
      value: was.mark_date_format,
      options: text.formats.map((one) => ({ value: one, text: one })),
    }),
    selectField({
      name: "level_unit",
      label: labels.level_unit,
      required: true,
      value: was.level_unit,
      options: text.units,
    }),
  ];
}

/** @param {any} values */
function whole(values) {
  return Object.fromEntries(NAMES.map((name) => [name, values[name] ?? null]));
}

export default async function station() {
  const first = await call("GET", "/station");
  const base = first.data;
  if (!iMay("manage")) {
    return page(
      { title: text.title, lead: text.lead },
      factList(NAMES.map((name) => [text.labels[name], base[name]])),
    );
  }
  const fields = fieldsFor(base);
  const record = readVersion({ path: "/station", first, fields, mine: whole });
  const built = form({
    key: "station",
    fields: () => fields,
    body: el(
      "div",
      { class: "form-part" },
      fields.map((one) => one.node),
    ),
    submit: text.save,
    send: async (values) => {
      await record.send(values);
      await loadStation();
      toast(text.saved);
      refresh();
    },
    refused: (problem) => record.refused(problem, built.said),
  });
  return page({ title: text.title, lead: text.lead }, built.node, changesPart("/station"));
}
