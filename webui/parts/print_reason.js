/** Why something is printed that was printed before, or that lacks a mark: asked only then. */

import { el, show } from "./dom.js";
import { textField } from "./fields.js";

const text = {
  why: "Reason",
  enter: "What is missing, and where to enter it:",
  againReasons: ["The printer jammed", "The labels were lost", "They cannot be read"],
  missingReasons: ["It is written on by hand", "It is not asked for here"],
};

/**
 * @typedef {{words: string, reprinted: number, missing: import("./dom.js").Children[]}} Asked
 *   `words`: why it is asked, as the service says it
 */

export function printReason() {
  const reason = textField({ name: "reason", label: text.why, required: true });
  const facts = el("div", { class: "form-part" });
  const quick = el("div", { class: "readings" });
  const node = el("div", { class: "form-part reason" }, facts, reason.node);
  reason.node.append(quick);
  node.hidden = true;
  const say = (/** @type {string} */ words) => {
    const button = el("button", { type: "button", class: "button" }, words);
    button.addEventListener("click", () => {
      reason.setRaw(words);
      reason.complain(null);
      node.dispatchEvent(new Event("input", { bubbles: true }));
    });
    return button;
  };
  /** @type {import("./fields.js").Field} */
  const field = {
    ...reason,
    node,
    read: () => (node.hidden ? { ok: true, value: undefined } : reason.read()),
  };
  return {
    field,
    /** @param {Asked} asked */
    ask({ words, reprinted, missing }) {
      node.hidden = false;
      show(
        facts,
        el(
          "div",
          { class: "notice notice-warn" },
          el("p", {}, words),
          missing.length > 0 && [
            el("p", {}, text.enter),
            el(
              "ul",
              {},
              missing.map((one) => el("li", {}, one)),
            ),
          ],
        ),
      );
      show(
        quick,
        (reprinted > 0 ? text.againReasons : []).map(say),
        (missing.length > 0 ? text.missingReasons : []).map(say),
      );
    },
    done() {
      reason.setRaw("");
      node.hidden = true;
    },
    /** Fill it in as long as nobody has. @param {string} words */
    suggest(words) {
      if (!reason.raw()) reason.setRaw(words);
    },
    jam: text.againReasons[0],
  };
}
