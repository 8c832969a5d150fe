/** Straws that are out and that nobody finds any more: they are missing from now on. */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { plural } from "../logic/numbers.js";
import { batchCounts, batchesOf, codesOf, total } from "../parts/batch_counts.js";
import { codePicker } from "../parts/code_picker.js";
import { el } from "../parts/dom.js";
import { suggestField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { empty, page } from "../parts/page.js";
import { whenField } from "../parts/when.js";

const text = {
  title: "Straws are lost",
  lead: (/** @type {any} */ w, /** @type {number} */ out) =>
    `${w.stallion_name} for ${w.mare_name}: ${plural(out, "straw")} still out${w.taken_by ? `, taken by ${w.taken_by}` : ""}.`,
  what: "For straws that nobody can say anything of. What was used, put back or thrown away is recorded as that. A straw that turns up again is out again once this entry is taken back in the book.",
  straws: "Straws that are lost",
  reason: "What is known about it",
  reasons: ["did not come back", "the outside vet does not answer", "container lost on the way"],
  submit: "They are lost",
  done: (/** @type {number} */ straws) => `${plural(straws, "straw")} recorded as lost.`,
  none: "None of these straws is out any more.",
};

/** By code where codes were read or a number would not say which; else by number. @param {any} values @param {any[][]} batches */
function which({ straw_codes, straws }, batches) {
  if (straw_codes?.length) return { straw_codes };
  return batches.length > 1 ? { straw_codes: codesOf(batches, straws) } : { straws: total(straws) };
}

/** @param {import("../parts/page.js").Context} context */
export default async function lostPage({ params }) {
  const w = await get(`/withdrawals/${params.id}`);
  const back = { href: `#/withdrawals/${w.id}`, text: `${w.stallion_name} for ${w.mare_name}` };
  const lifted = w.straws.filter((/** @type {any} */ one) => one.state === "lifted");
  if (!lifted.length)
    return page({ title: text.title, back, kind: "dose" }, empty(text.none, back));
  const batches = batchesOf(lifted);
  const straws = batchCounts({ name: "straws", label: text.straws, batches, all: true });
  const codes = codePicker({
    codes: lifted.map((/** @type {any} */ one) => one.code).filter(Boolean),
    stallion_id: w.stallion_id,
    batch_ids: lifted.map((/** @type {any} */ one) => one.batch_id),
  });
  const reason = suggestField({
    name: "reason",
    label: text.reason,
    required: true,
    suggestions: text.reasons,
  });
  const when = whenField();
  const key = `lost:${w.id}`;
  const built = form({
    key,
    kind: "danger",
    submit: text.submit,
    fields: () => [...(codes.count() ? [] : [straws]), codes.field, reason, when.field],
    body: [straws.node, codes.node, reason.node, when.node],
    send: async (values) => {
      const named = which(values, batches);
      const { occurred_at } = values;
      const body = { ...named, reason: values.reason, occurred_at };
      await sendAct(key, `/withdrawals/${w.id}/lost`, body);
      toast(text.done(named.straw_codes?.length ?? named.straws));
      go(back.href);
    },
  });
  codes.onchange(() => {
    straws.node.hidden = codes.count() > 0;
  });
  return page(
    { title: text.title, lead: text.lead(w, lifted.length), back, kind: "dose" },
    el("p", { class: "notice" }, text.what),
    built.node,
  );
}
