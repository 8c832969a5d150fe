/** What was printed before: who, when, how many, and why again. */

import { loadPrints } from "../net/labels.js";
import { moment } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { markInWords } from "../logic/straw_marks.js";
import { el, show } from "./dom.js";
import { empty, growingList, plainRow } from "./page.js";
import { problemBox } from "./problem.js";

const text = {
  label: "Printed before",
  none: "Nothing of it was printed yet.",
  styles: /** @type {Record<string, string>} */ ({
    strip: "strip",
    flag: "flag",
    plate: "plate",
    plates: "plate",
  }),
  again: (/** @type {number} */ labels) => `${labels} printed again`,
  reason: "Reason: ",
  missing: "Without: ",
};

/** @param {any} one  a print */
function row(one) {
  return plainRow({
    title: plural(one.labels, text.styles[one.style] ?? one.style),
    detail: [
      `${moment(one.printed_at)} · ${one.by}`,
      one.reprinted > 0 && ` · ${text.again(one.reprinted)}`,
      one.missing_marks.length > 0 && [
        el("br"),
        text.missing,
        one.missing_marks.map(markInWords).join(", "),
      ],
      one.reason && [el("br"), text.reason, one.reason],
    ],
  });
}

/** @param {{batch_id?: string, code?: string}} of */
export function printHistory(of) {
  const node = el("div", { class: "form-part" });
  const load = async () => {
    try {
      show(
        node,
        await growingList({
          label: text.label,
          none: empty(text.none),
          row,
          load: (after) => loadPrints(of, after),
        }),
      );
    } catch (problem) {
      show(node, problemBox(problem));
    }
  };
  return { node, load };
}
