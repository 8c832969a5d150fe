/**
 * Printing as one act: the reason asked where there has to be one, the print recorded once however
 * often the button is pressed, then its paper opened, and told again in the history.
 */

import { recordPrint } from "../net/labels.js";
import { el, show } from "./dom.js";
import { form } from "./form.js";
import { announce } from "./live.js";
import { openPaper, openedPaper } from "./paper.js";
import { printReason } from "./print_reason.js";

const text = {
  reason: "A reason is needed before this is printed.",
  recorded: (/** @type {string} */ what) => `Recorded: ${what} printed.`,
};

/** @typedef {import("./fields.js").Field} Field */

/**
 * @typedef {object} PrintSpec
 * @property {string} key
 * @property {Field[]} fields
 * @property {import("./dom.js").Children} body
 * @property {() => string} submit  the button's words, as they fit what is chosen
 * @property {(values: any) => Record<string, unknown>} request  what is asked of the service
 * @property {(labels: number) => string} count  "48 strips"
 * @property {{load: () => Promise<void>}} history  told anew after printing
 * @property {(mark: string) => import("./dom.js").Children} missing  a missing mark, and what to do
 * @property {import("./dom.js").Children} [next]  what comes after printing
 */

/** @param {PrintSpec} spec @param {any} printed */
function doneView(spec, printed) {
  return el(
    "div",
    { class: "notice notice-good", tabindex: "-1" },
    el("p", {}, el("strong", {}, text.recorded(spec.count(printed.labels)))),
    printed.warnings.map((/** @type {any} */ one) => el("p", {}, one.message)),
    openedPaper(printed.pdf_url, spec.next),
  );
}

/** @param {PrintSpec} spec */
export function printForm(spec) {
  const reason = printReason();
  const done = el("div", { class: "printed-now" });
  const built = form({
    key: spec.key,
    draft: false,
    fields: () => [...spec.fields, reason.field],
    get submit() {
      return spec.submit();
    },
    body: [spec.body, reason.field.node],
    send: async (values) => {
      const { reason: why, ...chosen } = values;
      show(done);
      const printed = await recordPrint(spec.key, { ...spec.request(chosen), reason: why });
      openPaper(printed.pdf_url);
      const view = doneView(spec, printed);
      show(done, view);
      announce(text.recorded(spec.count(printed.labels)));
      view.focus();
      reason.done();
      await spec.history.load();
    },
    refused: (problem) => {
      if (problem.code !== "reason-needed") return false;
      const { reprinted, missing_marks } = problem.facts;
      reason.ask({
        words: problem.message,
        reprinted,
        missing: missing_marks.map(spec.missing),
      });
      announce(text.reason);
      reason.field.focus();
      return true;
    },
  });
  const words = () => {
    if (!built.submit.disabled) built.submit.textContent = spec.submit();
  };
  for (const kind of ["input", "change"]) built.node.addEventListener(kind, words);
  spec.history.load();
  return { node: el("div", { class: "form label-form" }, built.node, done), reason };
}
