/** Naming straws by code where the person wants to be certain: scanned one by one, or none at all. */

import { codeText, el, show } from "./dom.js";
import { disclosure } from "./page.js";
import { scanField } from "./scan.js";

const text = {
  title: "Or name them by code",
  label: "Code of a straw in your hand",
  hint: "With codes read, exactly these straws are booked. Without, the number is.",
  added: "Read.",
  again: "That one is read already.",
  notAStraw: "That is a place or a batch, not a straw.",
  notHere: "That code is not among these straws. It is booked if it is a twin of one of them.",
  remove: "Remove",
};

/** A code that was read, and a way to take it off again. @param {string} code @param {() => void} drop */
export function readCodeItem(code, drop) {
  const name = `${text.remove} ${code}`;
  const button = el(
    "button",
    { type: "button", class: "button button-quiet", "aria-label": name },
    text.remove,
  );
  button.addEventListener("click", drop);
  return el("li", {}, codeText(code), button);
}

/**
 * @param {{codes: string[], title?: string, hint?: string}} spec
 *   `codes`: those the book expects here; others may be twins
 */
export function codePicker({ codes, title = text.title, hint = text.hint }) {
  /** @type {string[]} */
  let read = [];
  /** @type {() => void} */
  let changed = () => {};
  const list = el("ul", { class: "codes" });
  const set = (/** @type {string[]} */ next) => {
    read = next;
    const drop = (/** @type {string} */ code) => set(read.filter((one) => one !== code));
    show(
      list,
      read.map((code) => readCodeItem(code, () => drop(code))),
    );
    changed();
  };
  const scan = scanField({
    label: text.label,
    hint,
    got: (code, kind) => {
      if (kind !== "straw") return { kind: "refused", text: text.notAStraw };
      if (read.includes(code)) return { kind: "check", text: text.again };
      set([...read, code]);
      const expected = codes.includes(code);
      return { kind: expected ? "done" : "check", text: expected ? text.added : text.notHere };
    },
  });
  const details = disclosure(title, scan.node, list);
  /** @type {import("./fields.js").Field} */
  const field = {
    name: "straw_codes",
    node: details,
    complain: () => {},
    warn: () => {},
    focus: scan.focus,
    raw: () => (read.length ? JSON.stringify(read) : ""),
    setRaw(kept) {
      set(JSON.parse(kept));
      details.open = read.length > 0;
    },
    read: () => ({ ok: true, value: read.length ? read : undefined }),
  };
  return {
    node: details,
    field,
    count: () => read.length,
    onchange(/** @type {() => void} */ listener) {
      changed = listener;
    },
  };
}
