/** Plates of a goblet, a canister or a tank, and of what hangs in it. */

import { get } from "../net/api.js";
import { loadTanks, whereIs } from "../net/bank.js";
import { paper, platePicture } from "../net/labels.js";
import { iMay } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { el } from "../parts/dom.js";
import { choiceField } from "../parts/fields.js";
import { beforePrinting, dotsField } from "../parts/label_fields.js";
import { labelPreview } from "../parts/label_preview.js";
import { empty, page, section } from "../parts/page.js";
import { paperLink } from "../parts/paper.js";
import { printForm } from "../parts/print_form.js";
import { printHistory } from "../parts/print_history.js";
import { sheetField } from "../parts/sheet_field.js";

const text = {
  titles: {
    goblet: (/** @type {any} */ at) => `Plate of goblet ${at.goblet.address}`,
    canister: (/** @type {any} */ at) => `Plates of ${at.tank.name}, canister ${at.canister.number}`,
    tank: (/** @type {any} */ at) => `Plates of ${at.tank.name}`,
  },
  lead: "A plate says what people call the place, and has the symbol that a scanner reads. Its code stays the same wherever the place hangs.",
  back: { goblet: "Goblet", canister: "Canister", tank: "Tank" },
  noSuch: "There is no such place",
  bank: { href: "#/bank", text: "The bank" },
  which: "Which plates",
  one: { goblet: "This goblet’s", canister: "This canister’s alone", tank: "The tank’s alone" },
  inside: {
    canister: (/** @type {any} */ at) =>
      `The canister’s, and those of its ${plural(at.canister.goblets.length, "goblet")}`,
    tank: (/** @type {any} */ at) =>
      `The tank’s, and those of its ${plural(at.tank.canisters.length, "canister")} and ${plural(goblets(at.tank), "goblet")}`,
  },
  seen: "How it will look",
  alt: (/** @type {string} */ kind) => `The plate of the ${kind}, as the printer will set it`,
  look: "Look at the paper first (PDF, not recorded)",
  print: (/** @type {string} */ plates) => `Print ${plates}`,
  count: (/** @type {number} */ plates) => plural(plates, "plate"),
  history: "Printed before",
};

/** @typedef {import("../net/labels.js").PlaceKind} Kind */

/** @param {any} tank */
function goblets(tank) {
  return tank.canisters.reduce(
    (/** @type {number} */ sum, /** @type {any} */ one) => sum + one.goblets.length,
    0,
  );
}

/** The place, and what it hangs in. @param {Kind} kind @param {string} id */
async function placeOf(kind, id) {
  const tanks = await loadTanks();
  if (kind === "tank") {
    const tank = tanks.find((one) => one.id === id);
    return tank ? { tank, place: tank } : null;
  }
  const at = whereIs(tanks, id);
  if (!at) return null;
  return kind === "canister" ? { ...at, place: at.canister } : { ...at, place: at.goblet };
}

/** @param {Kind} kind @param {any} at @param {any} station @param {AbortSignal} signal */
function bench(kind, at, station, signal) {
  const id = at.place.id;
  const which = choiceField({
    name: "all",
    label: text.which,
    required: true,
    value: "one",
    options: [
      { value: "one", text: text.one[kind] },
      ...(kind === "goblet" ? [] : [{ value: "all", text: text.inside[kind](at) }]),
    ],
  });
  which.node.hidden = kind === "goblet";
  const dots = dotsField(station);
  const howMany = () => (which.raw() === "all" ? platesIn(kind, at) : 1);
  const sheet = sheetField({ labels: howMany });
  const preview = labelPreview({ signal, sized: sheet.setSize });
  const look = paperLink({ url: "", words: text.look });
  const redraw = () => {
    const dpi = Number(dots.raw());
    look.href = paper(`${kind}s/${id}`, { dpi, all: which.raw() === "all" ? "true" : null });
    preview.update({ path: platePicture(kind, id, dpi), dpi, alt: text.alt(kind) });
  };
  for (const one of [which, dots]) one.node.addEventListener("change", redraw);
  redraw();
  const seen = el(
    "div",
    { class: "label-seen" },
    el("h2", {}, text.seen),
    preview.node,
    el("p", {}, look),
  );
  return { which, dots, sheet, seen, howMany };
}

/** How many plates there are with those inside. @param {Kind} kind @param {any} at */
function platesIn(kind, at) {
  if (kind === "tank") return 1 + at.tank.canisters.length + goblets(at.tank);
  return 1 + (kind === "canister" ? at.canister.goblets.length : 0);
}

/** @param {Kind} kind @param {string} id @param {any} values */
function plateRequest(kind, id, { all, dpi, sheet }) {
  const style = all === "all" ? "plates" : "plate";
  return { what: { kind, id }, style, dpi: Number(dpi), ...sheet };
}

/** @param {import("../parts/page.js").Context} context */
export default async function platesPage({ params, signal }) {
  const kind = /** @type {Kind} */ (params.kind);
  const [at, station] = await Promise.all([
    kind in text.titles ? placeOf(kind, params.id) : null,
    get("/station"),
  ]);
  if (!at) return page({ title: text.noSuch, back: text.bank });
  const { which, dots, sheet, seen, howMany } = bench(kind, at, station, signal);
  const frame = {
    title: text.titles[kind](at),
    lead: text.lead,
    kind: "page-wide",
    back: { href: `#/bank/${kind}/${at.place.id}`, text: text.back[kind] },
  };
  const of = { code: at.place.code };
  const history = printHistory(of);
  if (!iMay("book")) {
    history.load();
    const body = el("div", { class: "label-bench" }, seen, dots.node);
    return page(frame, body, beforePrinting(station), section(text.history, history.node));
  }
  const printer = printForm({
    key: `print:${at.place.id}`,
    fields: [which, dots, sheet.field],
    submit: () => text.print(text.count(howMany())),
    history,
    count: text.count,
    missing: (mark) => mark,
    request: (values) => plateRequest(kind, at.place.id, values),
    body: el(
      "div",
      { class: "label-bench" },
      which.node,
      seen,
      el("div", { class: "form-part" }, dots.node, sheet.field.node),
    ),
  });
  return page(frame, printer.node, beforePrinting(station), section(text.history, history.node));
}
