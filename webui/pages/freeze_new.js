/** Logging a freeze: typed once, reckoned while typing, booked as one act. */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { loadStock, loadTanks } from "../net/bank.js";
import { keep } from "../net/keep.js";
import { today, zone } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { link } from "../logic/routes.js";
import { fromLocalField, showDay } from "../logic/times.js";
import { codeText } from "../parts/dom.js";
import { form } from "../parts/form.js";
import { freezeFields, freezeLayout } from "../parts/freeze_fields.js";
import { liveFigures } from "../parts/freeze_figures.js";
import { go } from "../parts/go.js";
import { factList, page } from "../parts/page.js";
import { debounce, stallionField } from "../parts/pickers.js";
import { placesByScan } from "../parts/goblet_scan.js";
import { gobletsWithRoom, placesField } from "../parts/places_field.js";

const text = {
  title: "Log a freeze",
  back: { href: "#/freeze", text: "Another way to begin" },
  batch: "Batch",
  stallion: "Stallion",
  prepared: "Codes prepared",
  day: "Collection day",
  submit: (/** @type {number} */ count) =>
    count ? `Book ${plural(count, "straw")}` : "Book this freeze",
};

/** @param {any} batch */
function batchFacts(batch) {
  return factList([
    [text.stallion, batch.stallion_name],
    [text.batch, codeText(batch.code)],
    [text.prepared, plural(batch.straws_planned, "straw")],
    [text.day, batch.collected_on && showDay(batch.collected_on)],
  ]);
}

/** When the collection was, as far as the batch says. @param {any} batch */
function startMoment(batch) {
  const day = batch?.collected_on;
  return !day || day === today() ? "now" : (fromLocalField(`${day}T09:00`, zone()) ?? "now");
}

/** @param {any} batch @param {string|null} chosen */
async function whoFor(batch, chosen) {
  if (batch) {
    const stallion = await get(`/stallions/${batch.stallion_id}`);
    return {
      node: batchFacts(batch),
      fields: [],
      id: () => batch.stallion_id,
      ruleOf: () => stallion.dose_rule,
      colourOf: () => batch.straw_colour ?? stallion.straw_colour,
    };
  }
  const { field, stallions } = await stallionField({ value: chosen ?? undefined });
  const chosenOne = () => stallions.find((one) => one.id === field.raw());
  return {
    node: field.node,
    fields: [field],
    id: field.raw,
    ruleOf: () => chosenOne()?.dose_rule ?? null,
    colourOf: () => chosenOne()?.straw_colour ?? null,
  };
}

/** @param {import("../parts/page.js").Context} context */
export default async function freezeNew({ query, signal }) {
  const batchId = query.get("batch");
  const batch = batchId ? await get(`/batches/${batchId}`) : null;
  const [who, tanks, stock] = await Promise.all([
    whoFor(batch, query.get("stallion")),
    loadTanks(),
    loadStock({}),
  ]);
  const f = freezeFields({
    collectedAt: startMoment(batch),
    straws: batch?.straws_planned,
    colour: who.colourOf(),
    strawVolume: batch?.straw_volume_ml,
  });
  const strawCount = () => {
    const read = f.straws.read();
    return read.ok && read.value ? read.value : 0;
  };
  const places = placesField({
    goblets: gobletsWithRoom(tanks, stock),
    wanted: () => ({
      straws: strawCount(),
      stallion_id: who.id(),
      batch_id: batchId ?? undefined,
      on_hold: f.hold.raw() ? "true" : undefined,
    }),
  });
  const fields = [...who.fields, ...Object.values(f), places];
  const figures = liveFigures({ fields, stallionId: who.id, rule: who.ruleOf });
  const key = `freeze:${batchId ?? "new"}`;
  const built = form({
    key,
    fields: () => fields,
    submit: text.submit(strawCount()),
    body: freezeLayout(f, { who: who.node, figures: figures.node, places: places.node }),
    send: (values) => book(key, values, batch),
  });
  follow(built, { f, who, places, figures, strawCount });
  placesByScan(signal, places);
  return page({ title: text.title, back: text.back }, built.node);
}

/** @param {string} key @param {any} values @param {any} batch */
async function book(key, values, batch) {
  const body = batch ? { ...values, batch_id: batch.id, stallion_id: batch.stallion_id } : values;
  if (body.post_thaw && body.post_thaw.progressive_motility_percent === undefined)
    delete body.post_thaw;
  const { data } = await sendAct(key, "/freezes", body);
  keep(`freeze-done:${data.batch.id}`, data);
  go(link(`/batches/${data.batch.id}`, { stored: 1 }));
}

/**
 * Keep figures, places and the button's words up with what is typed.
 * @param {{node: HTMLFormElement, submit: HTMLButtonElement}} built @param {any} parts
 */
function follow(built, { f, who, places, figures, strawCount }) {
  const reckon = debounce(figures.update, 350);
  const place = debounce(() => places.propose(false), 350);
  const words = () => {
    if (!built.submit.disabled) built.submit.textContent = text.submit(strawCount());
  };
  built.node.addEventListener("input", (event) => {
    reckon();
    words();
    if (!places.node.contains(event.target)) place();
  });
  built.node.addEventListener("change", () => {
    if (!f.colour.raw()) f.colour.setRaw(who.colourOf() ?? "");
  });
  words();
  figures.update();
  places.propose(false);
}
