/** Throwing straws of one batch away, out of a goblet, with a reason. */

import { sendAct } from "../net/acts.js";
import { loadGoblet } from "../net/bank.js";
import { plural } from "../logic/numbers.js";
import { codeText, el } from "../parts/dom.js";
import { numberField, suggestField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { ask } from "../parts/dialog.js";
import { codePicker } from "../parts/code_picker.js";
import { empty, page } from "../parts/page.js";
import { whenField } from "../parts/when.js";
import { batchIn, strawsNamed } from "../parts/goblet_act.js";

const text = {
  title: "Discard straws",
  from: (/** @type {any} */ item, /** @type {any} */ goblet) =>
    `${item.stallion_name}, ${plural(item.straws, "straw")} in ${goblet.address}, batch `,
  straws: "Straws to discard",
  reason: "Reason",
  reasons: ["straw damaged", "may have warmed", "test failed", "owner’s order"],
  final: "Discarded straws do not come back. The book keeps who did it, when and why.",
  submit: "Discard them",
  sure: (/** @type {number} */ straws, /** @type {string} */ name) =>
    `Discard ${plural(straws, "straw")} of ${name}?`,
  yes: "Yes, discard them",
  no: "No, keep them",
  done: (/** @type {number} */ straws) => `${plural(straws, "straw")} discarded.`,
  gone: "This batch is not in this goblet any more.",
};

/** @param {import("../parts/page.js").Context} context */
export default async function discardPage({ params, query }) {
  const goblet = await loadGoblet(params.id);
  const back = { href: `#/bank/goblet/${goblet.id}`, text: `Goblet ${goblet.address}` };
  const item = batchIn(goblet, query.get("batch"));
  if (!item) return page({ title: text.title, back }, empty(text.gone, back));
  const straws = numberField({
    name: "straws",
    label: text.straws,
    required: true,
    whole: true,
    least: 1,
    most: item.straws,
  });
  const codes = codePicker({ stallion_id: item.stallion_id, batch_ids: [item.batch_id] });
  const reason = suggestField({
    name: "reason",
    label: text.reason,
    required: true,
    suggestions: text.reasons,
  });
  const when = whenField();
  const key = `discard:${goblet.id}:${item.batch_id}`;
  const built = form({
    key,
    kind: "danger",
    submit: text.submit,
    fields: () => [...(codes.count() ? [] : [straws]), codes.field, reason, when.field],
    body: [
      el("p", { class: "notice notice-warn" }, text.final),
      straws.node,
      codes.node,
      reason.node,
      when.node,
    ],
    send: async (values) => {
      const count = values.straw_codes?.length ?? values.straws;
      const agreed = await ask({
        title: text.sure(count, item.stallion_name),
        body: el("p", {}, text.final),
        yes: text.yes,
        no: text.no,
        danger: true,
      });
      if (!agreed) return false;
      const { data } = await sendAct(key, "/discards", strawsNamed(values, goblet, item));
      toast(text.done(data.straws));
      go(back.href);
      return true;
    },
  });
  codes.onchange(() => {
    straws.node.hidden = codes.count() > 0;
  });
  return page(
    { title: text.title, lead: [text.from(item, goblet), codeText(item.batch_code)], back },
    built.node,
  );
}
