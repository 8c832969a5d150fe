/** Straws of a dispatch that come back unused: read by code, put in one goblet, of one batch. */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { loadStock, loadTanks } from "../net/bank.js";
import { keep } from "../net/keep.js";
import { plural } from "../logic/numbers.js";
import { caution } from "../parts/cautions.js";
import { codePicker } from "../parts/code_picker.js";
import { messages, selectField, textField, tickField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { page } from "../parts/page.js";
import { gobletsWithRoom } from "../parts/places_field.js";
import { whenField } from "../parts/when.js";

const text = {
  title: "Straws come back",
  lead: (/** @type {any} */ d) =>
    `Sent to ${d.to}. Read the code of each straw that came back; those of one batch at a time.`,
  back: (/** @type {any} */ d) => `Dispatch to ${d.to}`,
  codes: "The straws in your hand",
  cold: "They stayed in the cold the whole way",
  coldHint: "The shipper was never opened for long, and still cold through when it came.",
  notCold: "What may have thawed does not go back. Leave it dispatched, and discard the straws.",
  goblet: "Into goblet",
  choose: "Choose the goblet",
  option: (/** @type {any} */ goblet) =>
    `${goblet.address} · ${goblet.free} free${goblet.quarantine ? " · quarantine" : ""}`,
  note: "Note",
  noCode: "Read the code of at least one straw.",
  submit: (/** @type {number} */ count) =>
    count ? `Put ${plural(count, "straw")} back in store` : "Put them back in store",
  done: (/** @type {number} */ count) => `${plural(count, "straw")} back in store.`,
};

/** @param {any} d @param {any[]} goblets */
function fieldsFor(d, goblets) {
  const away = d.straws.filter((/** @type {any} */ one) => one.code && one.state === "dispatched");
  const codes = codePicker({
    codes: away.map((/** @type {any} */ one) => one.code),
    title: text.codes,
    hint: "",
  });
  /** @type {HTMLDetailsElement} */ (codes.node).open = true;
  return {
    codes,
    cold: tickField({
      name: "cold",
      label: text.cold,
      hint: text.coldHint,
      required: true,
      missing: text.notCold,
    }),
    goblet: selectField({
      name: "goblet_id",
      label: text.goblet,
      required: true,
      none: text.choose,
      missing: `${text.choose}.`,
      options: goblets
        .filter((one) => one.free > 0)
        .map((one) => ({ value: one.id, text: text.option(one) })),
    }),
    note: textField({ name: "note", label: text.note }),
  };
}

/**
 * Which straws go where; whose they are says the first of them.
 * @param {any} d @param {any} values
 */
async function receiptOf(d, { straw_codes, goblet_id, note, occurred_at }) {
  const first = await get(`/straws/${straw_codes[0]}`);
  const straws = straw_codes.length;
  return {
    kind: "received",
    stallion_id: first.stallion_id,
    from: d.to,
    coded: true,
    straws,
    placements: [{ goblet_id, straws, straw_codes }],
    note,
    occurred_at,
  };
}

/** @param {import("../parts/page.js").Context} context */
export default async function comingBack({ params }) {
  const [d, tanks, stock] = await Promise.all([
    get(`/dispatches/${params.id}`),
    loadTanks(),
    loadStock({}),
  ]);
  const f = fieldsFor(d, gobletsWithRoom(tanks, stock));
  const when = whenField();
  const said = messages(f.codes.node);
  const codes = {
    ...f.codes.field,
    complain: said.complain,
    /** @returns {ReturnType<import("../parts/fields.js").Field["read"]>} */
    read: () => (f.codes.count() ? f.codes.field.read() : { ok: false, message: text.noCode }),
  };
  const key = `coming-back:${d.id}`;
  const built = form({
    key,
    fields: () => [codes, f.cold, f.goblet, f.note, when.field],
    body: [f.codes.node, said.nodes, f.cold.node, f.goblet.node, f.note.node, when.node],
    submit: text.submit(0),
    send: async (values) => {
      const { data } = await sendAct(key, "/receipts", await receiptOf(d, values));
      const warnings = data.warnings.map((/** @type {any} */ one) => one.message);
      keep(`batch-told:${data.batch.id}`, { done: text.done(data.straws.length), warnings });
      go(`#/batches/${data.batch.id}`);
    },
  });
  f.codes.onchange(() => {
    built.submit.textContent = text.submit(f.codes.count());
  });
  return page(
    {
      title: text.title,
      lead: text.lead(d),
      back: { href: `#/dispatches/${d.id}`, text: text.back(d) },
    },
    caution("moving"),
    built.node,
  );
}
