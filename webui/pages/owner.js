/** Giving straws of one batch in a goblet to somebody, or back to the common stock. */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { loadGoblet } from "../net/bank.js";
import { plural } from "../logic/numbers.js";
import { codeText } from "../parts/dom.js";
import { codePicker } from "../parts/code_picker.js";
import { numberField, selectField, suggestField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { batchIn, strawsNamed } from "../parts/goblet_act.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { commonStraws } from "../parts/owners.js";
import { empty, page } from "../parts/page.js";

const text = {
  title: "Change the owner",
  lead: (/** @type {any} */ item, /** @type {any} */ goblet) =>
    `${item.stallion_name}, ${plural(item.straws, "straw")} in ${goblet.address}, batch `,
  from: "Whose straws are they now",
  common: (/** @type {number} */ count) => `the station’s common stock (${count})`,
  owned: (/** @type {any} */ one) => `${one.owner} (${one.straws})`,
  to: "Whose they are from now on",
  toHint: "Leave it empty to give them back to the common stock.",
  straws: "How many straws",
  reason: "Reason",
  submit: "Change the owner",
  done: (/** @type {number} */ count, /** @type {string|null} */ owner) =>
    `${plural(count, "straw")} now ${count === 1 ? "belongs" : "belong"} to ${owner ?? "the common stock"}.`,
  gone: "This batch is not in this goblet any more.",
};

/** @param {import("../parts/page.js").Context} context */
export default async function ownerPage({ params, query }) {
  const [goblet, owners] = await Promise.all([loadGoblet(params.id), get("/owners")]);
  const back = { href: `#/bank/goblet/${goblet.id}`, text: `Goblet ${goblet.address}` };
  const item = batchIn(goblet, query.get("batch"));
  if (!item) return page({ title: text.title, back }, empty(text.gone, back));
  const common = commonStraws(item);
  const from = selectField({
    name: "from_owner",
    label: text.from,
    ...(common > 0 ? { none: text.common(common) } : {}),
    options: item.owners.map((/** @type {any} */ one) => ({
      value: one.owner,
      text: text.owned(one),
    })),
  });
  const owner = suggestField({
    name: "owner",
    label: text.to,
    hint: text.toHint,
    suggestions: [...new Set(owners.items.map((/** @type {any} */ one) => one.owner))],
  });
  const straws = numberField({
    name: "straws",
    label: text.straws,
    required: true,
    whole: true,
    least: 1,
    most: item.straws,
  });
  const codes = codePicker({ stallion_id: item.stallion_id, batch_ids: [item.batch_id] });
  const reason = textField({ name: "reason", label: text.reason, required: true });
  const key = `owner:${goblet.id}:${item.batch_id}`;
  const built = form({
    key,
    submit: text.submit,
    fields: () => [from, owner, ...(codes.count() ? [] : [straws]), codes.field, reason],
    body: [from.node, owner.node, straws.node, codes.node, reason.node],
    send: async (values) => {
      const asked = strawsNamed({ ...values, owner: values.owner ?? null }, goblet, item);
      const { data } = await sendAct(key, "/owner-changes", asked);
      toast(text.done(data.straws, data.owner));
      go(back.href);
    },
  });
  codes.onchange(() => {
    straws.node.hidden = codes.count() > 0;
  });
  return page(
    { title: text.title, lead: [text.lead(item, goblet), codeText(item.batch_code)], back },
    built.node,
  );
}
