/** What all labels are asked, and what is said before the first of them is printed. */

import { paper } from "../net/labels.js";
import { el } from "./dom.js";
import { selectField } from "./fields.js";
import { linkButton, section } from "./page.js";
import { paperLink } from "./paper.js";

const text = {
  printer: "Printer",
  dpi: (/** @type {number} */ dpi) => `${dpi} dots an inch`,
  before: "Before the first print",
  ruler:
    "Print the ruler at 100 %, without “fit to page”, and measure it: both lines have to be 50 mm long. Otherwise no label has its true size.",
  openRuler: "Open the ruler (PDF)",
  settings: "Label settings",
  untried:
    "None of these labels was tried in liquid nitrogen by us. Try label, glue and printer on spare straws and empty goblets first.",
};

const DOTS = [203, 300, 600];

/** @param {any} station */
export function dotsField(station) {
  return selectField({
    name: "dpi",
    label: text.printer,
    required: true,
    value: String(station.printer_dpi),
    options: DOTS.map((dpi) => ({ value: String(dpi), text: text.dpi(dpi) })),
  });
}

/** @param {any} station */
export function beforePrinting(station) {
  return section(
    text.before,
    el("p", {}, text.ruler),
    el(
      "p",
      { class: "ways" },
      paperLink({ url: paper("ruler", { dpi: station.printer_dpi }), words: text.openRuler }),
      linkButton({ href: "#/station/labels", text: text.settings }),
    ),
    el("p", { class: "notice notice-warn" }, text.untried),
  );
}
