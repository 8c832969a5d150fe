/**
 * On what labels are printed: label paper, or a sheet of A4 that is drawn with its places, so that
 * the first free one can be tapped when a sheet has been used before.
 */

import { A4, cornerOf, placesOn, sheetsFor } from "../logic/sheets.js";
import { plural } from "../logic/numbers.js";
import { el, show, svg } from "./dom.js";
import { choiceField, numberField } from "./fields.js";
import { stepper } from "./stepper.js";

const text = {
  paper: "Printed on",
  roll: "Label paper",
  rollHint: "A page for each label, of the label’s own size.",
  a4: "Sheets of A4",
  a4Hint: "Many on a page, with marks to cut along.",
  margin: "Margins",
  marginHint: "As far from the edge as your printer can print.",
  start: "First free place",
  tap: "Tap the first free place on the sheet if some labels of it are gone.",
  picture: (/** @type {number} */ places, /** @type {number} */ start) =>
    `A sheet of A4 with ${plural(places, "place")}; printing begins at ${start}`,
  told: (/** @type {number} */ places, /** @type {number} */ sheets) =>
    `${plural(places, "place")} on a sheet; ${plural(sheets, "sheet")} in all.`,
  none: "With these margins not one label has room on the sheet.",
};

/** @typedef {{width: number, height: number}} Size */

/**
 * The sheet as a drawing.
 * @param {{size: Size, margin: number, start: number, labels: number, pick: (place: number) => void}} sheet
 */
function drawing({ size, margin, start, labels, pick }) {
  const label = { ...size, margin };
  const { places } = placesOn(label);
  const cells = Array.from({ length: places }, (_, i) => {
    const { x, y } = cornerOf(label, i + 1);
    const kind = i + 1 < start ? "gone" : i + 1 < start + labels ? "used" : "free";
    const cell = svg("rect", { ...size, x, y, class: `sheet-${kind}` });
    cell.addEventListener("click", () => pick(i + 1));
    return cell;
  });
  return svg(
    "svg",
    {
      viewBox: `0 0 ${A4.width} ${A4.height}`,
      class: "sheet",
      role: "img",
      "aria-label": text.picture(places, start),
    },
    svg("rect", { ...A4, class: "sheet-paper" }),
    cells,
  );
}

/** @param {{labels: () => number}} spec  how many are to be printed */
export function sheetField({ labels }) {
  const choice = choiceField({
    name: "sheet",
    label: text.paper,
    required: true,
    value: "roll",
    options: [
      { value: "roll", text: text.roll, hint: text.rollHint },
      { value: "a4", text: text.a4, hint: text.a4Hint },
    ],
  });
  const margin = numberField({
    name: "margin_mm",
    label: text.margin,
    hint: text.marginHint,
    unit: "mm",
    value: "10",
    required: true,
    least: 0,
    most: 60,
  });
  let start = 1;
  /** @type {Size|null} */
  let size = null;
  const place = el("div", { class: "sheet-place" });
  const told = el("p", { class: "echo" });
  const steps = stepper({
    label: text.start,
    value: 1,
    least: 1,
    most: 999,
    changed: (next) => {
      start = next;
      draw();
    },
  });
  const more = el(
    "div",
    { class: "form-part" },
    margin.node,
    steps.node,
    el("p", { class: "hint" }, text.tap),
    told,
    place,
  );
  const on = () => {
    const typed = margin.read();
    if (!size || !typed.ok) return null;
    const label = { ...size, margin: Number(typed.value) };
    return { ...label, ...placesOn(label) };
  };
  const draw = () => {
    more.hidden = choice.raw() !== "a4";
    if (more.hidden) return;
    const sheet = on();
    show(place);
    if (!sheet) told.textContent = "";
    else if (!sheet.places) told.textContent = text.none;
    else {
      if (start > sheet.places) return steps.set(1);
      told.textContent = text.told(sheet.places, sheetsFor(sheet, start, labels()));
      const pick = (/** @type {number} */ chosen) => steps.set(chosen);
      show(place, drawing({ size: sheet, margin: sheet.margin, start, labels: labels(), pick }));
    }
  };
  choice.node.addEventListener("change", draw);
  margin.node.addEventListener("input", draw);
  draw();
  /** @type {import("./fields.js").Field} */
  const field = {
    ...choice,
    node: el("div", { class: "form-part" }, choice.node, more),
    read() {
      if (choice.raw() !== "a4") return { ok: true, value: {} };
      const typed = margin.read();
      margin.complain(typed.ok ? null : typed.message);
      if (!typed.ok) return { ok: false, message: null };
      return { ok: true, value: { sheet: "a4", start, margin_mm: Number(typed.value) } };
    },
    focus: () => (choice.raw() === "a4" ? margin.focus() : choice.focus()),
  };
  return {
    field,
    draw,
    setSize(/** @type {Size|null} */ next) {
      size = next;
      draw();
    },
  };
}
