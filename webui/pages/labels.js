/** Labels of a batch's straws: seen before they are printed, printed before the straws are filled. */

import { get } from "../net/api.js";
import { paper, strawPicture } from "../net/labels.js";
import { iMay } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { link } from "../logic/routes.js";
import { missingMark } from "../logic/straw_marks.js";
import { codeText, el } from "../parts/dom.js";
import { choiceField } from "../parts/fields.js";
import { beforePrinting, dotsField } from "../parts/label_fields.js";
import { labelPreview } from "../parts/label_preview.js";
import { empty, linkButton, page, section } from "../parts/page.js";
import { paperLink } from "../parts/paper.js";
import { printForm } from "../parts/print_form.js";
import { printHistory } from "../parts/print_history.js";
import { sheetField } from "../parts/sheet_field.js";
import { whichStraws } from "../parts/which_straws.js";

const text = {
  title: (/** @type {any} */ b) => `Labels of ${b.stallion_name}`,
  back: "Batch",
  lead: (/** @type {number} */ count) => `${plural(count, "straw")} with a code in batch `,
  none: "This batch has no straws with a code, so there is nothing to print. Straws from before labels go by count.",
  style: "Label",
  strip: "Strip",
  strips: {
    band: "Words along the side of the straw that is seen. Goes on its body before it is filled.",
    wrap: "A label all round the straw, words along it. Goes on its body before it is filled.",
  },
  flag: "Flag",
  flagHint:
    "A tab folded round the free end: a larger symbol on one face, words on the other. For goblets with room above the rim.",
  seen: "How it will look",
  alt: (/** @type {string} */ style, /** @type {string} */ code) =>
    `The ${style} of straw ${code}, as the printer will set it`,
  look: "Look at all of them first (PDF, not recorded)",
  print: (/** @type {string} */ labels) => `Print ${labels}`,
  count: {
    strip: (/** @type {number} */ n) => plural(n, "strip"),
    flag: (/** @type {number} */ n) => plural(n, "flag"),
  },
  freeze: "Log its freeze now",
  history: "Printed before",
};

/** @typedef {"strip"|"flag"} Style */

/** @param {any} station */
function styleField(station) {
  const strip = text.strips[/** @type {"band"|"wrap"} */ (station.strip_form)];
  return choiceField({
    name: "style",
    label: text.style,
    required: true,
    value: station.label_style,
    options: [
      { value: "strip", text: text.strip, hint: strip },
      { value: "flag", text: text.flag, hint: text.flagHint },
    ],
  });
}

/** A missing mark, and the way to where it is entered. @param {string} mark @param {any} batch */
function missing(mark, batch) {
  const { what, enter, href } = missingMark(mark, batch);
  return [what, " ", enter && el("a", { href }, enter)];
}

/**
 * @param {any} batch @param {string[]} codes @param {any} station @param {AbortSignal} signal
 */
function bench(batch, codes, station, signal) {
  const style = styleField(station);
  const dots = dotsField(station);
  const which = whichStraws(codes);
  const howMany = () => {
    const range = which.chosen();
    return range ? range.to - range.from + 1 : codes.length;
  };
  const sheet = sheetField({ labels: howMany });
  const preview = labelPreview({ signal, sized: sheet.setSize });
  const chosenStyle = () => /** @type {Style} */ (style.raw());
  const look = paperLink({ url: "", words: text.look });
  const redraw = () => {
    const how = { style: chosenStyle(), dpi: Number(dots.raw()) };
    look.href = paper(`batches/${batch.id}`, how);
    preview.update({
      path: strawPicture(codes[0], how),
      dpi: how.dpi,
      alt: text.alt(how.style, codes[0]),
    });
  };
  for (const one of [style, dots]) one.node.addEventListener("change", redraw);
  which.field.node.addEventListener("input", sheet.draw);
  redraw();
  return { style, dots, which, sheet, preview, look, chosenStyle, howMany };
}

/** @typedef {ReturnType<typeof bench>} Bench */

/** @param {Bench} b */
function seen(b) {
  const look = el("p", {}, b.look);
  return el("div", { class: "label-seen" }, el("h2", {}, text.seen), b.preview.node, look);
}

/** The codes of a part; all need not be named. @param {import("../parts/which_straws.js").Range} range @param {string[]} codes */
function named({ from, to }, codes) {
  return from === 1 && to === codes.length ? undefined : codes.slice(from - 1, to);
}

/**
 * @param {any} batch @param {string[]} codes @param {Bench} b
 * @param {{load: () => Promise<void>}} history
 */
function printing(batch, codes, b, history) {
  const fields = [b.style, b.dots, b.which.field, b.sheet.field];
  const printer = printForm({
    key: `print:${batch.id}`,
    fields,
    submit: () => text.print(text.count[b.chosenStyle()](b.howMany())),
    history,
    count: (labels) => text.count[b.chosenStyle()](labels),
    missing: (mark) => missing(mark, batch),
    request: ({ style, dpi, straws, sheet }) => ({
      what: { kind: "batch", id: batch.id },
      style,
      dpi: Number(dpi),
      straws: named(straws, codes),
      ...sheet,
    }),
    body: el(
      "div",
      { class: "label-bench" },
      b.style.node,
      seen(b),
      el("div", { class: "form-part" }, b.which.field.node, b.dots.node, b.sheet.field.node),
    ),
    next:
      batch.state === "prepared" &&
      linkButton({ href: link("/freeze/new", { batch: batch.id }), text: text.freeze }),
  });
  b.which.field.node.addEventListener("change", () => {
    const range = b.which.chosen();
    if (range?.jam) printer.reason.suggest(printer.reason.jam);
  });
  return printer.node;
}

/** What somebody sees who does not print. @param {Bench} b @param {{load: () => Promise<void>}} history */
function looking(b, history) {
  history.load();
  return el("div", { class: "label-bench" }, b.style.node, seen(b), b.dots.node);
}

/** @param {import("../parts/page.js").Context} context */
export default async function labelsPage({ params, signal }) {
  const [batch, station] = await Promise.all([get(`/batches/${params.id}`), get("/station")]);
  const codes = batch.straws
    .filter((/** @type {any} */ one) => one.code && one.state !== "void")
    .map((/** @type {any} */ one) => one.code)
    .sort(); // in the order they are printed
  const frame = {
    title: text.title(batch),
    back: { href: `#/batches/${batch.id}`, text: text.back },
  };
  if (!codes.length) return page(frame, empty(text.none));
  const b = bench(batch, codes, station, signal);
  const history = printHistory({ batch_id: batch.id });
  return page(
    { ...frame, lead: [text.lead(codes.length), codeText(batch.code)], kind: "page-wide" },
    iMay("book") ? printing(batch, codes, b, history) : looking(b, history),
    beforePrinting(station),
    section(text.history, history.node),
  );
}
