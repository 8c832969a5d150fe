/** The station's own record: its name and clocks stand on every screen, its numbers on every mark. */

import { call } from "../net/api.js";
import { iMay, loadStation, today } from "../net/session.js";
import { markDay, showMoment } from "../logic/times.js";
import { el } from "../parts/dom.js";
import { changesPart } from "../parts/changes.js";
import { readVersion } from "../parts/conflict.js";
import { numberField, selectField, suggestField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { factList, linkButton, page } from "../parts/page.js";

const text = {
  title: "The station",
  lead: "What stands on every screen and every mark, and what a freeze starts from.",
  labels: {
    name: "Name",
    country: "Country",
    approval_number: "Approval number",
    processing_approval_number: "Approval number of the processing establishment",
    time_zone: "Time zone",
    mark_date_format: "How dates are written on straws",
    level_unit: "How levels are read",
    days_in_store: "Days in store, from collection until straws leave",
    required_tests: "Tests that are asked for until then",
  },
  hints: {
    name: "A freeze is collected here unless it says otherwise.",
    country: "Two letters, such as IE",
    approval_number: "A freeze collected here bears it.",
    processing_approval_number: "Only where another establishment processes.",
    time_zone: "Such as Europe/Dublin. Days and times on all screens follow it.",
    required_tests: "With commas between them. Empty when none is asked for.",
  },
  source:
    "30 days with EIA, EVA and CEM are the usual ones: Directive 92/65/EEC Annex D as amended by Regulation (EU) 176/2010, from memory. Local rules and the authority’s own form come first.",
  clock: (/** @type {string} */ now) => `There it is ${now} now.`,
  format: (/** @type {string} */ format, /** @type {string} */ day) => `${format}: today is ${day}`,
  noTests: "none",
  units: [
    { value: "cm", text: "cm on the dipstick" },
    { value: "litres", text: "litres" },
    { value: "kg", text: "kg on a scale" },
  ],
  formats: ["ddmmyy", "yymmdd", "dd/mm/yy", "yy/mm/dd", "dd.mm.yy", "yy.mm.dd"],
  labelSettings: { href: "#/station/labels", text: "Label settings" },
  backups: { href: "#/backups", text: "Backups of the book" },
  alerts: { href: "#/alerts/settings", text: "How people are told" },
  save: "Save",
  saved: "Saved.",
};

const NAMES = /** @type {(keyof typeof text.labels)[]} */ (Object.keys(text.labels));

/** @param {string} format */
function formatInWords(format) {
  return text.format(format, markDay(today(), format));
}

/** The zone, and below it what its clocks say. @param {any} was */
function zoneField(was) {
  const zones =
    typeof Intl.supportedValuesOf === "function" ? Intl.supportedValuesOf("timeZone") : [];
  const field = suggestField({ ...plain("time_zone", was), required: true, suggestions: zones });
  const clock = el("p", { class: "echo" });
  const tell = () => {
    try {
      clock.textContent = text.clock(showMoment(new Date().toISOString(), field.raw().trim()));
    } catch {
      clock.textContent = ""; // not the name of a zone, or not yet
    }
  };
  field.node.append(clock);
  field.node.addEventListener("input", tell);
  tell();
  const setRaw = (/** @type {string} */ value) => {
    field.setRaw(value);
    tell();
  };
  return { ...field, setRaw };
}

/** @param {any} was @returns {import("../parts/fields.js").Field} */
function testsField(was) {
  const field = textField({
    ...plain("required_tests", was),
    value: was.required_tests.join(", "),
  });
  return {
    ...field,
    read: () => ({
      ok: true,
      value: field
        .raw()
        .split(",")
        .map((one) => one.trim())
        .filter(Boolean),
    }),
  };
}

/** Name, label, hint and value of a field. @param {keyof typeof text.labels} name @param {any} was */
function plain(name, was) {
  const hints = /** @type {Record<string, string>} */ (text.hints);
  return { name, label: text.labels[name], hint: hints[name], value: was[name] };
}

/** @param {any} was */
function fieldsFor(was) {
  return [
    textField({ ...plain("name", was), required: true }),
    textField({
      ...plain("country", was),
      props: { autocapitalize: "characters", maxlength: 2 },
    }),
    textField(plain("approval_number", was)),
    textField(plain("processing_approval_number", was)),
    zoneField(was),
    selectField({
      ...plain("mark_date_format", was),
      required: true,
      options: text.formats.map((one) => ({ value: one, text: formatInWords(one) })),
    }),
    selectField({ ...plain("level_unit", was), required: true, options: text.units }),
    numberField({
      ...plain("days_in_store", was),
      unit: "days",
      required: true,
      whole: true,
      least: 0,
      most: 3650,
    }),
    testsField(was),
  ];
}

/** The record as everybody else reads it. @param {any} was */
function facts(was) {
  const shown = {
    ...was,
    mark_date_format: formatInWords(was.mark_date_format),
    level_unit: text.units.find((one) => one.value === was.level_unit)?.text,
    required_tests: was.required_tests.join(", ") || text.noTests,
  };
  return [
    factList(NAMES.map((name) => [text.labels[name], shown[name]])),
    el("p", { class: "hint" }, text.source),
  ];
}

/** @param {any} values */
function whole(values) {
  return Object.fromEntries(NAMES.map((name) => [name, values[name] ?? null]));
}

export default async function station() {
  const pages = [text.alerts, text.labelSettings, text.backups];
  const first = await call("GET", "/station");
  const base = first.data;
  if (!iMay("manage")) {
    return page(
      { title: text.title, lead: text.lead },
      facts(base),
      el("p", { class: "ways" }, pages.map(linkButton)),
      changesPart("/station"),
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
      el("p", { class: "hint" }, text.source),
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
  return page(
    { title: text.title, lead: text.lead },
    built.node,
    el("p", { class: "ways" }, pages.map(linkButton)),
    changesPart("/station"),
  );
}
