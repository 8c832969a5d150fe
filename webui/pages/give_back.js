/** Putting straws back: only those that never left nitrogen, and the person says so plainly. */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { loadStock, loadTanks } from "../net/bank.js";
import { plural } from "../logic/numbers.js";
import { caution } from "../parts/cautions.js";
import { batchCounts, batchesOf, codesOf, total } from "../parts/batch_counts.js";
import { el } from "../parts/dom.js";
import { choiceField, selectField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { empty, linkButton, page } from "../parts/page.js";
import { codePicker } from "../parts/code_picker.js";
import { chooseGoblet } from "../parts/goblet_scan.js";
import { whenField } from "../parts/when.js";
import { gobletsWithRoom } from "../parts/places_field.js";

const text = {
  title: "Put straws back",
  lead: (/** @type {any} */ w, /** @type {number} */ out) =>
    `${w.stallion_name} for ${w.mare_name}. ${plural(out, "straw")} out of the tank.`,
  cold: "Did these straws stay in nitrogen the whole time?",
  coldHint:
    "In the tank or in a bath of liquid nitrogen, without a break. A few seconds above the frost line at a time are part of the work.",
  yes: "Yes, the whole time",
  no: "No, or I am not sure",
  never: "Then they do not go back: they may have thawed and look the same. Discard them.",
  discard: "Discard the rest instead",
  straws: "Straws that go back",
  goblet: "Into goblet",
  choose: "Choose the goblet",
  option: (/** @type {any} */ goblet) => `${goblet.address} · ${goblet.free} free`,
  submit: "Put them back",
  done: (/** @type {number} */ straws) => `${plural(straws, "straw")} back in the bank.`,
  none: "None of these straws is out any more.",
};

/** @param {any} w @param {any[]} lifted @param {any[]} goblets */
function fieldsFor(w, lifted, goblets) {
  const from = new Set(lifted.map((one) => one.address));
  const room = goblets.filter((one) => one.free > 0);
  const home = room.find((one) => from.has(one.address));
  const goblet = selectField({
    name: "goblet_id",
    label: text.goblet,
    required: true,
    none: text.choose,
    missing: `${text.choose}.`,
    value: home?.id,
    options: room.map((one) => ({ value: one.id, text: text.option(one) })),
  });
  return {
    cold: choiceField({
      name: "cold",
      label: text.cold,
      hint: text.coldHint,
      required: true,
      options: [
        { value: "yes", text: text.yes },
        { value: "no", text: text.no },
      ],
    }),
    straws: batchCounts({
      name: "straws",
      label: text.straws,
      batches: batchesOf(lifted),
      all: true,
    }),
    codes: codePicker({
      codes: lifted.map((one) => one.code).filter(Boolean),
      stallion_id: w.stallion_id,
      batch_ids: lifted.map((one) => one.batch_id),
      goblet: chooseGoblet(() => goblet),
    }),
    goblet,
  };
}

/** By code where codes were read or a number would not say which; else by number. @param {any} values @param {any[][]} batches */
function whichGoBack({ straw_codes, straws }, batches) {
  if (straw_codes?.length) return { straw_codes };
  return batches.length > 1 ? { straw_codes: codesOf(batches, straws) } : { straws: total(straws) };
}

/** @param {import("../parts/page.js").Context} context */
export default async function giveBack({ params }) {
  const [w, tanks, stock] = await Promise.all([
    get(`/withdrawals/${params.id}`),
    loadTanks(),
    loadStock({}),
  ]);
  const back = { href: `#/withdrawals/${w.id}`, text: `${w.stallion_name} for ${w.mare_name}` };
  const lifted = w.straws.filter((/** @type {any} */ one) => one.state === "lifted");
  if (!lifted.length)
    return page({ title: text.title, back, kind: "dose" }, empty(text.none, back));
  const f = fieldsFor(w, lifted, gobletsWithRoom(tanks, stock));
  const when = whenField();
  const key = `return:${w.id}`;
  const refuse = el(
    "div",
    { class: "notice notice-warn", hidden: true },
    el("p", {}, text.never),
    linkButton({ href: `#/withdrawals/${w.id}/discard`, text: text.discard }),
  );
  const built = form({
    key,
    submit: text.submit,
    fields: () => [
      f.cold,
      ...(f.codes.count() ? [] : [f.straws]),
      f.codes.field,
      f.goblet,
      when.field,
    ],
    body: [f.cold.node, refuse, f.straws.node, f.codes.node, f.goblet.node, when.node],
    send: async (values) => {
      const named = whichGoBack(values, batchesOf(lifted));
      const { goblet_id, occurred_at, cold } = values;
      const body = { ...named, goblet_id, occurred_at, kept_in_nitrogen: cold === "yes" };
      await sendAct(key, `/withdrawals/${w.id}/return`, body);
      toast(text.done(named.straw_codes?.length ?? named.straws));
      go(back.href);
    },
  });
  const follow = () => {
    refuse.hidden = f.cold.raw() !== "no";
    built.submit.hidden = f.cold.raw() === "no";
    f.straws.node.hidden = f.codes.count() > 0;
  };
  built.node.addEventListener("input", follow);
  f.codes.onchange(follow);
  follow();
  return page(
    { title: text.title, lead: text.lead(w, lifted.length), back, kind: "dose" },
    caution("moving"),
    built.node,
  );
}
