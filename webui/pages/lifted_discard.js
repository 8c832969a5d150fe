/** What is still out of a withdrawal is thrown away, with a reason. */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { plural } from "../logic/numbers.js";
import { el } from "../parts/dom.js";
import { suggestField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { whenField } from "../parts/when.js";
import { empty, page } from "../parts/page.js";

const text = {
  title: "Discard the rest",
  lead: (/** @type {any} */ w, /** @type {number} */ out) =>
    `${w.stallion_name} for ${w.mare_name}: ${plural(out, "straw")} still out.`,
  final: "Discarded straws do not come back. The book keeps who did it, when and why.",
  reason: "Reason",
  reasons: ["may have warmed", "thawed, not needed", "straw damaged", "mare not inseminated"],
  submit: (/** @type {number} */ out) => `Discard ${plural(out, "straw")}`,
  done: (/** @type {number} */ out) => `${plural(out, "straw")} discarded.`,
  none: "None of these straws is out any more.",
};

/** @param {import("../parts/page.js").Context} context */
export default async function liftedDiscard({ params }) {
  const w = await get(`/withdrawals/${params.id}`);
  const back = { href: `#/withdrawals/${w.id}`, text: `${w.stallion_name} for ${w.mare_name}` };
  const out = w.straws.filter((/** @type {any} */ one) => one.state === "lifted").length;
  if (!out) return page({ title: text.title, back, kind: "dose" }, empty(text.none, back));
  const reason = suggestField({
    name: "reason",
    label: text.reason,
    required: true,
    suggestions: text.reasons,
  });
  const when = whenField();
  const key = `discard-rest:${w.id}`;
  const built = form({
    key,
    fields: () => [reason, when.field],
    kind: "danger",
    submit: text.submit(out),
    body: [el("p", { class: "notice notice-warn" }, text.final), reason.node, when.node],
    send: async (values) => {
      await sendAct(key, `/withdrawals/${w.id}/discard`, values);
      toast(text.done(out));
      go(back.href);
    },
  });
  return page({ title: text.title, lead: text.lead(w, out), back, kind: "dose" }, built.node);
}
