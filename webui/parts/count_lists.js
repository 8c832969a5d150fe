/** What was seen in a goblet so far: codes, numbers by batch, and what is none of either. */

import { plural } from "../logic/numbers.js";
import { codeText, el, freshId, show } from "./dom.js";
import { disclosure } from "./page.js";
import { stepper } from "./stepper.js";

const text = {
  read: (/** @type {number} */ codes) => `${plural(codes, "straw")} scanned`,
  which: "Which ones",
  remove: "Take off",
  removeCode: (/** @type {string} */ code) => `Take off ${code}`,
  many: (/** @type {number} */ by) => `${by} more`,
  unreadable: "Straws whose mark cannot be read",
  foreign: "Marks that are not of this bank",
  foreignHint: "As you read it. Codes that are not ours come here by themselves when scanned.",
  add: "Add",
  other: "Unreadable, or not ours",
  otherSeen: (/** @type {number} */ unreadable, /** @type {number} */ foreign) =>
    `Unreadable: ${unreadable}. Not ours: ${foreign}.`,
};

const MOST = 999;

/** @typedef {import("../logic/counts.js").GobletCount} GobletCount */

/** @param {string} words @param {string} name @param {() => void} drop */
function dropButton(words, name, drop) {
  const button = el(
    "button",
    { type: "button", class: "button button-quiet", "aria-label": name },
    words,
  );
  button.addEventListener("click", drop);
  return button;
}

/** The codes, newest first, folded away. @param {(code: string) => void} drop */
export function codesSeen(drop) {
  const number = el("p", { class: "count-number", "aria-live": "polite" });
  const list = el("ul", { class: "codes" });
  const details = disclosure(text.which, list);
  const node = el("div", { class: "form-part" }, number, details);
  return {
    node,
    /** @param {GobletCount} count */
    draw({ codes }) {
      number.textContent = text.read(codes.length);
      details.hidden = !codes.length;
      show(
        list,
        codes.map((code) =>
          el(
            "li",
            {},
            codeText(code),
            dropButton(text.remove, text.removeCode(code), () => drop(code)),
          ),
        ),
      );
    },
  };
}

/** One batch with a large stepper. @param {import("../logic/counts.js").BatchCount} batch @param {{set: (straws: number) => void, drop: () => void}} act */
function batchCard(batch, act) {
  const step = stepper({
    label: batch.name,
    value: batch.straws,
    most: MOST,
    changed: act.set,
  });
  const more = [5, 10].map((by) => {
    const name = { "aria-label": text.many(by) };
    const button = el("button", { type: "button", class: "button", ...name }, `+${by}`);
    button.addEventListener("click", () => step.set(step.value() + by));
    return button;
  });
  return el(
    "li",
    { class: "count-batch" },
    step.node,
    batch.detail && el("p", { class: "hint" }, batch.detail),
    el(
      "div",
      { class: "count-more" },
      more,
      dropButton(text.remove, `${text.remove} ${batch.name}`, act.drop),
    ),
  );
}

/**
 * The batches with their numbers. Cards stay as they are while their number changes, so that the
 * finger stays on its button.
 * @param {{set: (key: string, straws: number) => void, drop: (key: string) => void}} act
 */
export function batchesSeen(act) {
  const node = el("ul", { class: "count-batches" });
  let shown = "";
  return {
    node,
    /** @param {GobletCount} count */
    draw({ batches }) {
      const keys = batches.map((one) => one.key).join();
      if (keys === shown && keys) return;
      shown = keys;
      node.hidden = !batches.length;
      show(
        node,
        batches.map((one) =>
          batchCard(one, {
            set: (straws) => act.set(one.key, straws),
            drop: () => act.drop(one.key),
          }),
        ),
      );
    },
  };
}

/**
 * Unreadable straws and foreign marks, folded away until there are some.
 * @param {GobletCount} first
 * @param {{unreadable: (straws: number) => void, foreign: (mark: string) => void, dropForeign: (at: number) => void}} act
 */
export function othersSeen(first, act) {
  const step = stepper({
    label: text.unreadable,
    value: first.unreadable,
    most: MOST,
    changed: act.unreadable,
  });
  const input = el("input", { type: "text", id: freshId("mark"), autocomplete: "off", maxlength: 200 });
  const add = el("button", { type: "button", class: "button" }, text.add);
  const take = () => {
    const mark = input.value.trim();
    if (!mark) return input.focus();
    input.value = "";
    act.foreign(mark);
    return undefined;
  };
  add.addEventListener("click", take);
  input.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    take();
  });
  const list = el("ul", { class: "codes" });
  const seen = el("p", { class: "count-others" });
  const details = disclosure(
    text.other,
    step.node,
    el(
      "div",
      { class: "field" },
      el("label", { for: input.id }, text.foreign),
      el("p", { class: "hint" }, text.foreignHint),
      el("div", { class: "beside" }, input, add),
    ),
    list,
  );
  return {
    node: el("div", { class: "form-part" }, seen, details),
    /** @param {GobletCount} count */
    draw({ unreadable, foreign }) {
      seen.hidden = !unreadable && !foreign.length;
      seen.textContent = text.otherSeen(unreadable, foreign.length);
      show(
        list,
        foreign.map((mark, at) =>
          el(
            "li",
            {},
            el("span", {}, mark),
            dropButton(text.remove, text.removeCode(mark), () => act.dropForeign(at)),
          ),
        ),
      );
    },
  };
}
