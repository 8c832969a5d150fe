/** Preparing a batch: its codes exist, and can be listed on paper, before a straw is filled. */

import { sendAct } from "../net/acts.js";
import { COLOUR_NAMES } from "../logic/marks.js";
import { link } from "../logic/routes.js";
import { today } from "../net/session.js";
import { el } from "../parts/dom.js";
import { dayField, numberField, suggestField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { page } from "../parts/page.js";
import { stallionField } from "../parts/pickers.js";

const text = {
  title: "Prepare a batch",
  lead: "One code for each straw, to mark the straws before they are filled. Codes left over become void with the freeze.",
  back: { href: "#/freeze", text: "Log a freeze" },
  straws: "Straws to mark",
  strawsHint: "A few more than you expect to fill: some spoil, some are thawed for the test.",
  day: "Collection day",
  volume: "Straw size",
  colour: "Straw colour",
  colourHint: "As it is in your hand. A second cue only.",
  submit: "Make the codes",
};

/** @param {import("../parts/page.js").Context} context */
export default async function prepare({ query }) {
  const { field: stallion, stallions } = await stallionField({
    value: query.get("stallion") ?? undefined,
  });
  const straws = numberField({
    name: "straws_planned",
    label: text.straws,
    hint: text.strawsHint,
    required: true,
    whole: true,
    least: 1,
    most: 100000,
  });
  const day = dayField({ name: "collected_on", label: text.day, value: today() });
  const volume = numberField({
    name: "straw_volume_ml",
    label: text.volume,
    unit: "mL",
    value: "0.5",
    moreThan: 0,
  });
  const colour = suggestField({
    name: "straw_colour",
    label: text.colour,
    hint: text.colourHint,
    suggestions: COLOUR_NAMES,
  });
  stallion.node.addEventListener("change", () => {
    if (!colour.raw())
      colour.setRaw(stallions.find((one) => one.id === stallion.raw())?.straw_colour ?? "");
  });
  const fields = [stallion, straws, day, volume, colour];
  const built = form({
    key: "prepare",
    fields: () => fields,
    submit: text.submit,
    body: [
      stallion.node,
      straws.node,
      el("div", { class: "pair pair-wide" }, day.node, volume.node),
      colour.node,
    ],
    send: async (values) => {
      const { data } = await sendAct("prepare", "/batches", values);
      const warned = data.warnings.map((/** @type {any} */ one) => one.message).join(" ");
      if (warned) toast(warned, "check");
      go(link(`/batches/${data.id}/codes`, { fresh: 1 }));
    },
  });
  return page({ title: text.title, lead: text.lead, back: text.back }, built.node);
}
