/** A post-thaw result that comes later: it uses up its test straws and changes the doses. */

import { get, search } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { plural } from "../logic/numbers.js";
import { codeText, el } from "../parts/dom.js";
import { numberField, selectField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { codePicker } from "../parts/code_picker.js";
import { page } from "../parts/page.js";

const text = {
  title: "Record a post-thaw result",
  motility: "Progressive motility, post-thaw",
  minutes: "Measured after",
  straws: "Straws thawed for the test",
  goblet: "Taken from goblet",
  submit: "Record the result",
  option: (/** @type {any} */ one) => `${one.address}, ${plural(one.straws, "straw")}`,
  gone: "Straws thawed for the test are gone: the book takes them out of the bank.",
  wasTested: "0 if the straws were booked as tested with the freeze.",
};

/** @param {any} b @param {any[]} goblets */
function fieldsFor(b, goblets) {
  const stored = b.straws.filter((/** @type {any} */ one) => one.state === "stored");
  return {
    motility: numberField({
      name: "progressive_motility_percent",
      label: text.motility,
      unit: "%",
      required: true,
      least: 0,
      most: 100,
    }),
    minutes: numberField({ name: "minutes", label: text.minutes, unit: "minutes", least: 0 }),
    straws: numberField({
      name: "straws",
      label: text.straws,
      hint: text.wasTested,
      required: true,
      whole: true,
      least: 0,
      value: "1",
    }),
    goblet: selectField({
      name: "goblet_id",
      label: text.goblet,
      required: true,
      value: goblets[0]?.goblet_id,
      options: goblets.map((one) => ({ value: one.goblet_id, text: text.option(one) })),
    }),
    codes: codePicker({
      codes: stored.map((/** @type {any} */ one) => one.code),
      stallion_id: b.stallion_id,
      batch_ids: [b.id],
    }),
  };
}

/** @param {import("../parts/page.js").Context} context */
export default async function postThaw({ params }) {
  const [b, stock] = await Promise.all([
    get(`/batches/${params.id}`),
    get(`/stock${search({ batch_id: params.id, limit: 1000 })}`),
  ]);
  const { motility, minutes, straws, goblet, codes } = fieldsFor(b, stock.items);
  const byCount = () => codes.count() === 0;
  const key = `post-thaw:${b.id}`;
  const built = form({
    key,
    fields: () => [motility, minutes, codes.field, ...(byCount() ? [straws, goblet] : [])],
    submit: text.submit,
    body: [
      el("div", { class: "pair" }, motility.node, minutes.node),
      el("p", { class: "notice" }, text.gone),
      straws.node,
      goblet.node,
      codes.node,
    ],
    send: async (values) => {
      const { data } = await sendAct(key, `/batches/${b.id}/post-thaw`, requestOf(b, values));
      const warned = data.warnings.map((/** @type {any} */ one) => one.message).join(" ");
      toast(`${data.said} ${warned}`.trim(), warned ? "check" : "done");
      go(`#/batches/${b.id}`);
    },
  });
  codes.onchange(() => {
    straws.node.hidden = !byCount();
    goblet.node.hidden = !byCount();
  });
  return page(
    {
      title: text.title,
      lead: [b.stallion_name, ", ", codeText(b.code)],
      back: { href: `#/batches/${b.id}`, text: b.stallion_name },
    },
    built.node,
  );
}

/** @param {any} b @param {any} values */
function requestOf(b, values) {
  const { progressive_motility_percent, minutes, straw_codes, straws, goblet_id } = values;
  const taken = straw_codes?.length
    ? { straw_codes }
    : straws > 0
      ? { picks: [{ goblet_id, batch_id: b.id, straws }] }
      : {};
  return { progressive_motility_percent, ...(minutes ? { minutes } : {}), ...taken };
}
