/** Straws that were not frozen here: old stock, and what others send. Little has to be known. */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { loadStock, loadTanks } from "../net/bank.js";
import { keep } from "../net/keep.js";
import { plural } from "../logic/numbers.js";
import { link } from "../logic/routes.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { page } from "../parts/page.js";
import { debounce, stallionField } from "../parts/pickers.js";
import { gobletsWithRoom, placesField } from "../parts/places_field.js";
import { receiptFields, receiptLayout } from "../parts/receipt_fields.js";

const text = {
  title: "Bring in straws",
  lead: "Straws that were not frozen here under this book. What nobody knows stays empty.",
  back: { href: "#/bank", text: "The bank" },
  submit: (/** @type {number} */ count) =>
    count ? `Book ${plural(count, "straw")}` : "Book these straws",
};

const KEY = "receipt";

/** @param {import("../parts/page.js").Context} context */
export default async function receipt({ query }) {
  const [who, tanks, stock, owned] = await Promise.all([
    stallionField({ value: query.get("stallion") ?? undefined }),
    loadTanks(),
    loadStock({}),
    get("/owners"),
  ]);
  const owners = new Set(owned.items.map((/** @type {any} */ one) => one.owner));
  const f = receiptFields([...owners]);
  const strawCount = () => {
    const read = f.straws.read();
    return read.ok && read.value ? read.value : 0;
  };
  const places = placesField({
    goblets: gobletsWithRoom(tanks, stock),
    wanted: () => ({
      straws: strawCount(),
      stallion_id: who.field.raw(),
      on_hold: f.holdReason.raw() || f.holdUntil.raw() ? "true" : undefined,
    }),
  });
  const built = form({
    key: KEY,
    fields: () => [who.field, ...Object.values(f), places],
    submit: text.submit(0),
    body: receiptLayout(f, { who: who.field.node, places: places.node }),
    send: book,
  });
  follow(built, { f, places, strawCount });
  return page({ title: text.title, lead: text.lead, back: text.back }, built.node);
}

/** @param {any} values */
async function book({ coded, ...values }) {
  const body = { ...values, coded: coded === "yes" };
  if (body.kind !== "received") delete body.from;
  if (body.post_thaw?.progressive_motility_percent === undefined) delete body.post_thaw;
  const { data } = await sendAct(KEY, "/receipts", body);
  keep(`freeze-done:${data.batch.id}`, data);
  go(link(`/batches/${data.batch.id}`, { stored: 1 }));
}

/**
 * Keep the places, the sender and the button's words up with what is typed.
 * @param {{node: HTMLFormElement, submit: HTMLButtonElement}} built @param {any} parts
 */
function follow(built, { f, places, strawCount }) {
  const place = debounce(() => places.propose(false), 350);
  const follows = () => {
    f.from.node.hidden = f.kind.raw() !== "received";
    if (!built.submit.disabled) built.submit.textContent = text.submit(strawCount());
  };
  built.node.addEventListener("input", (event) => {
    follows();
    if (!places.node.contains(/** @type {Node} */ (event.target))) place();
  });
  follows();
  places.propose(false);
}
