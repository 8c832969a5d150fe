/** Straws that leave for another place: which, where to, in what, under which seal. */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { loadStock } from "../net/bank.js";
import { keep } from "../net/keep.js";
import { iMay } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { caution } from "../parts/cautions.js";
import { dispatchPicks } from "../parts/dispatch_picks.js";
import { el } from "../parts/dom.js";
import { areaField, momentField, numberField, selectField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { disclosure, page } from "../parts/page.js";
import { whenField } from "../parts/when.js";

const text = {
  title: "Dispatch straws",
  lead: "From here on they are out of the bank. The packing list is made for you.",
  back: { href: "#/dispatches", text: "Dispatches" },
  to: "To whom",
  toHint: "Station, stud or clinic, with the place.",
  number: "Their approval number",
  container: "Container",
  containerHint: "Its own number or name, as it stands on it.",
  seal: "Seal number",
  sealHint: "Between states the container travels sealed and numbered.",
  carrier: "Carrier",
  dry: "Dry shipper: how long it holds",
  rated: "Maker’s holding time",
  ratedHint: "Static: upright, filled until it takes no more, unopened.",
  filled: "Filled with nitrogen at",
  owner: "Only straws of this owner",
  anybody: "Whosever they are; you are told if some belong to somebody",
  reserve: "Reason for giving up his last doses",
  reserveHint: "It stands in the book under your name.",
  note: "Note",
  submit: "Book the dispatch",
  done: (/** @type {number} */ straws, /** @type {string} */ to) =>
    `${plural(straws, "straw")} dispatched to ${to}.`,
};

/** @param {any[]} owners */
function fieldsFor(owners) {
  return {
    to: textField({ name: "to", label: text.to, hint: text.toHint, required: true }),
    number: textField({ name: "to_approval_number", label: text.number }),
    container: textField({ name: "container", label: text.container, hint: text.containerHint }),
    seal: textField({ name: "seal_number", label: text.seal, hint: text.sealHint }),
    carrier: textField({ name: "carrier", label: text.carrier }),
    rated: numberField({
      name: "holding_days_rated",
      label: text.rated,
      hint: text.ratedHint,
      unit: "days",
      moreThan: 0,
      most: 1000,
    }),
    filled: momentField({ name: "filled_at", label: text.filled }),
    owner: selectField({
      name: "owner",
      label: text.owner,
      none: text.anybody,
      options: owners.map((one) => ({ value: one, text: one })),
    }),
    reserve: textField({ name: "release_reserve", label: text.reserve, hint: text.reserveHint }),
    note: areaField({ name: "note", label: text.note }),
  };
}

/** What the person came from: a goblet, a batch, or one of the other in it. @param {any[]} stock @param {URLSearchParams} query */
function cameFrom(stock, query) {
  const [goblet, batch] = [query.get("goblet"), query.get("batch")];
  if (!goblet && !batch) return [];
  return stock.filter(
    (item) => (!goblet || item.goblet_id === goblet) && (!batch || item.batch_id === batch),
  );
}

/** @param {import("../parts/page.js").Context} context */
export default async function dispatchNew({ query }) {
  const [stock, owners] = await Promise.all([loadStock({}), get("/owners")]);
  const names = [...new Set(owners.items.map((/** @type {any} */ one) => one.owner))];
  const picks = dispatchPicks({ stock, start: cameFrom(stock, query) });
  const f = fieldsFor(names);
  f.owner.node.hidden = names.length === 0;
  f.reserve.node.hidden = true;
  const when = whenField();
  const key = "dispatch";
  const built = form({
    key,
    submit: text.submit,
    fields: () => [
      picks,
      ...Object.values(f).filter((one) => !one.node.hidden || one === f.reserve),
      when.field,
    ],
    body: [
      picks.node,
      f.owner.node,
      f.to.node,
      f.number.node,
      f.container.node,
      f.seal.node,
      f.carrier.node,
      disclosure(text.dry, f.rated.node, f.filled.node),
      f.note.node,
      f.reserve.node,
      when.node,
    ],
    send: async (values) => {
      const { data } = await sendAct(key, "/dispatches", values);
      keep(`dispatch-done:${data.id}`, data.warnings);
      toast(text.done(data.straws.length, data.to));
      go(`#/dispatches/${data.id}`, { replace: true });
    },
    refused: (problem) => {
      if (problem.code === "reserve-reached" && iMay("manage")) f.reserve.node.hidden = false;
      return false;
    },
  });
  return page(
    { title: text.title, lead: text.lead, back: text.back },
    caution("dispatching"),
    el("div", {}, built.node),
  );
}
