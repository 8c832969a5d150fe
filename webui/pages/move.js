/** Moving straws of one batch out of a goblet into another. */

import { sendAct } from "../net/acts.js";
import { loadGoblet, loadStock, loadTanks } from "../net/bank.js";
import { plural } from "../logic/numbers.js";
import { caution } from "../parts/cautions.js";
import { codeText } from "../parts/dom.js";
import { numberField, selectField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { codePicker } from "../parts/code_picker.js";
import { chooseGoblet } from "../parts/goblet_scan.js";
import { empty, page } from "../parts/page.js";
import { gobletsWithRoom } from "../parts/places_field.js";
import { whenField } from "../parts/when.js";
import { batchIn, strawsNamed } from "../parts/goblet_act.js";

const text = {
  title: "Move straws",
  from: (/** @type {any} */ item, /** @type {any} */ goblet) =>
    `${item.stallion_name}, ${plural(item.straws, "straw")} in ${goblet.address}, batch `,
  straws: "Straws to move",
  goblet: "Into goblet",
  choose: "Choose the goblet",
  option: (/** @type {any} */ one) =>
    `${one.address} · ${one.free} free${one.quarantine ? " · quarantine" : ""}`,
  reason: "Reason",
  submit: "Book the move",
  done: (/** @type {number} */ straws, /** @type {string} */ to) =>
    `${plural(straws, "straw")} moved to ${to}.`,
  gone: "This batch is not in this goblet any more.",
};

/** @param {import("../parts/page.js").Context} context */
export default async function movePage({ params, query }) {
  const [goblet, tanks, stock] = await Promise.all([
    loadGoblet(params.id),
    loadTanks(),
    loadStock({}),
  ]);
  const back = { href: `#/bank/goblet/${goblet.id}`, text: `Goblet ${goblet.address}` };
  const item = batchIn(goblet, query.get("batch"));
  if (!item) return page({ title: text.title, back }, empty(text.gone, back));
  const others = gobletsWithRoom(tanks, stock).filter(
    (one) => one.id !== goblet.id && one.free > 0,
  );
  const straws = numberField({
    name: "straws",
    label: text.straws,
    required: true,
    whole: true,
    least: 1,
    most: item.straws,
    value: String(item.straws),
  });
  const to = selectField({
    name: "goblet_id",
    label: text.goblet,
    required: true,
    none: text.choose,
    missing: `${text.choose}.`,
    options: others.map((one) => ({ value: one.id, text: text.option(one) })),
  });
  const codes = codePicker({
    stallion_id: item.stallion_id,
    batch_ids: [item.batch_id],
    goblet: chooseGoblet(() => to),
  });
  const reason = textField({ name: "reason", label: text.reason });
  const when = whenField();
  const key = `move:${goblet.id}:${item.batch_id}`;
  const built = form({
    key,
    fields: () => [...(codes.count() ? [] : [straws]), codes.field, to, reason, when.field],
    submit: text.submit,
    body: [straws.node, codes.node, to.node, reason.node, when.node],
    send: async (values) => {
      const { data } = await sendAct(key, "/moves", strawsNamed(values, goblet, item));
      const address = others.find((one) => one.id === values.goblet_id)?.address ?? "";
      const warned = data.warnings.map((/** @type {any} */ one) => one.message).join(" ");
      toast(`${text.done(data.straws, address)} ${warned}`.trim(), warned ? "check" : "done");
      go(`#/bank/goblet/${values.goblet_id}`);
    },
  });
  codes.onchange(() => {
    straws.node.hidden = codes.count() > 0;
  });
  return page(
    { title: text.title, lead: [text.from(item, goblet), codeText(item.batch_code)], back },
    caution("moving"),
    built.node,
  );
}
