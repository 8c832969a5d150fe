/**
 * A label as the printer will set its dots: whole, at true size to be held against a straw, or
 * enlarged. What the service will not draw is told in its own words, in the label's place.
 */

import { file } from "../net/api.js";
import { showNumber } from "../logic/numbers.js";
import { el, show } from "./dom.js";
import { inWords } from "./problem.js";

const text = {
  views: "How large the label is shown",
  whole: "Whole",
  true: "True size",
  large: "Enlarged",
  size: (/** @type {string} */ width, /** @type {string} */ height, /** @type {number} */ dpi) =>
    `${width} × ${height} mm, at ${dpi} dots an inch`,
  scroll: "The label; move it sideways to see all of it",
  hold: "Hold a straw or an old label against it.",
  card: "Screens differ. Lay the short side of a bank card along the bar, and move the slider until the bar is as long.",
  slider: "Length of the bar",
  refused: "This label is not drawn",
};

/** The short side of a bank card in mm: ID-1 of ISO/IEC 7810:2019. */
const CARD_MM = 53.98;
const ENLARGED = 3;
const KEPT = "rimebook:screen-scale";

/** How much longer than the browser's own millimetre a real one is on this screen. */
function screenScale() {
  try {
    const kept = Number(localStorage.getItem(KEPT));
    return kept > 0.3 && kept < 4 ? kept : 1;
  } catch {
    return 1; // storage is refused
  }
}

/** @param {number} scale */
function keepScreenScale(scale) {
  try {
    localStorage.setItem(KEPT, String(scale));
  } catch {
    /* storage is refused: true until the page is left */
  }
}

/** Dots a millimetre; 203 stands for 8 exactly. @param {number} dpi */
function dotsPerMm(dpi) {
  return dpi === 203 ? 8 : dpi / 25.4;
}

/** @param {(scale: number) => void} changed */
function calibration(changed) {
  const bar = el("div", { class: "label-bar" });
  const slider = el("input", {
    type: "range",
    class: "label-slider",
    min: 0.5,
    max: 2.5,
    step: 0.005,
    value: screenScale(),
    "aria-label": text.slider,
  });
  const draw = () => {
    bar.style.width = `${CARD_MM * Number(slider.value)}mm`;
  };
  slider.addEventListener("input", () => {
    draw();
    keepScreenScale(Number(slider.value));
    changed(Number(slider.value));
  });
  draw();
  return el("div", { class: "label-true" }, el("p", { class: "hint" }, text.card), bar, slider);
}

/** @typedef {"whole"|"true"|"large"} View */
/** @typedef {{width: number, height: number}} Size  in mm */

/** A row of buttons of which one is pressed. @param {(view: View) => void} choose */
function viewButtons(choose) {
  const views = /** @type {View[]} */ (["whole", "true", "large"]);
  const buttons = views.map((view) => {
    const button = el("button", { type: "button", class: "button", "data-view": view }, text[view]);
    button.addEventListener("click", () => choose(view));
    return button;
  });
  return {
    node: el("div", { class: "label-views", role: "group", "aria-label": text.views }, buttons),
    press(/** @type {View} */ pressed) {
      for (const one of buttons)
        one.setAttribute("aria-pressed", String(one.dataset.view === pressed));
    },
  };
}

/** What stands on the page, and how the picture is sized in each view. */
function frame() {
  const picture = el("img", { class: "label-picture", alt: "" });
  const desk = el("div", { class: "label-desk" }, picture);
  const said = el("div", { "aria-live": "polite" });
  const size = el("p", { class: "hint number" });
  /** @type {Size|null} */
  let known = null;
  /** @type {View} */
  let view = "whole";
  let scale = screenScale();
  const buttons = viewButtons((chosen) => {
    view = chosen;
    draw();
  });
  const helps = el(
    "div",
    {},
    el("p", { class: "hint" }, text.hold),
    calibration((changed) => {
      scale = changed;
      draw();
    }),
  );
  const draw = () => {
    buttons.press(view);
    helps.hidden = view !== "true";
    desk.classList.toggle("label-desk-wide", view !== "whole");
    if (view === "whole") desk.removeAttribute("tabindex");
    else desk.tabIndex = 0;
    desk.setAttribute("role", view === "whole" ? "presentation" : "region");
    if (view === "whole") desk.removeAttribute("aria-label");
    else desk.setAttribute("aria-label", text.scroll);
    if (!known) return;
    const times = view === "true" ? scale : ENLARGED;
    const width = `${known.width * times}mm`;
    picture.style.width = view === "whole" ? `min(100%, ${width})` : width;
    picture.classList.toggle("label-dots", view === "large");
  };
  draw();
  return {
    node: el("div", { class: "label-preview" }, said, desk, size, buttons.node, helps),
    picture,
    said,
    size,
    setSize(/** @type {Size|null} */ next) {
      known = next;
      for (const one of [desk, size, buttons.node]) one.hidden = next === null;
      draw();
      if (!next) helps.hidden = true;
    },
  };
}

/** @param {any} problem */
function refusal(problem) {
  const { what } = inWords(problem, "read");
  return el(
    "div",
    { class: "problem" },
    el("p", { class: "problem-what" }, text.refused),
    el("p", {}, what),
  );
}

/** The picture shown and measured. @param {HTMLImageElement} picture @param {Blob} blob */
async function load(picture, blob) {
  const before = picture.src;
  picture.src = URL.createObjectURL(blob);
  if (before) URL.revokeObjectURL(before);
  await picture.decode();
  return { dotsWide: picture.naturalWidth, dotsHigh: picture.naturalHeight };
}

/**
 * @param {{signal: AbortSignal, sized?: (size: Size|null) => void}} spec `sized` hears of every label
 *   that was drawn, and of null for one that was not
 */
export function labelPreview({ signal, sized = () => {} }) {
  const shown = frame();
  let asked = 0;
  shown.setSize(null);
  /** @param {{path: string, dpi: number, alt: string}} label */
  const update = async ({ path, dpi, alt }) => {
    const mine = (asked += 1);
    shown.node.setAttribute("aria-busy", "true");
    try {
      const blob = await file("GET", path, { signal });
      if (mine !== asked) return;
      const { dotsWide, dotsHigh } = await load(shown.picture, blob);
      if (mine !== asked) return;
      const size = { width: dotsWide / dotsPerMm(dpi), height: dotsHigh / dotsPerMm(dpi) };
      // The picture ends with a whole dot, up to one after the label's own edge.
      const mm = { decimals: 1, down: true };
      const words = [size.width, size.height].map((side) => showNumber(side, mm));
      shown.picture.alt = alt;
      shown.size.textContent = text.size(words[0], words[1], dpi);
      show(shown.said);
      shown.setSize(size);
      sized(size);
    } catch (problem) {
      if (signal.aborted || mine !== asked) return;
      shown.setSize(null);
      sized(null);
      show(shown.said, refusal(problem));
    } finally {
      if (mine === asked) shown.node.removeAttribute("aria-busy");
    }
  };
  return { node: shown.node, update };
}
