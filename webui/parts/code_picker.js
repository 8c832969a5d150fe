/** Naming straws by code where the person wants to be certain: scanned one by one, or none at all. */

import { codeText, el, show } from "./dom.js";
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

/**
 * @param {{codes: string[]}} spec `codes`: those the book expects here; others may be twins
 */
export function codePicker({ codes }) {
  /** @type {string[]} */
  let read = [];
  /** @type {() => void} */
  let changed = () => {};
  const list = el("ul", { class: "codes" });
  const draw = () => {
    show(
      list,
      read.map((code) => {
        const remove = el(
          "button",
          { type: "button", class: "button button-quiet", "aria-label": `${text.remove} ${code}` },
          text.remove,
        );
        remove.addEventListener("click", () => {
          read = read.filter((one) => one !== code);
          draw();
        });
        return el("li", {}, codeText(code), remove);
      }),
    );
    changed();
  };
  const scan = scanField({
    label: text.label,
    hint: text.hint,
    got: (code, kind) => {
      if (kind !== "straw") return { kind: "refused", text: text.notAStraw };
      if (read.includes(code)) return { kind: "check", text: text.again };
      read = [...read, code];
      draw();
      return codes.includes(code)
        ? { kind: "done", text: text.added }
        : { kind: "check", text: text.notHere };
    },
  });
  const details = el(
    "details",
    { class: "more" },
    el("summary", {}, text.title),
    el("div", { class: "more-body" }, scan.node, list),
  );
  /** @type {import("./fields.js").Field} */
  const field = {
    name: "straw_codes",
    node: details,
    complain: () => {},
    warn: () => {},
    focus: scan.focus,
    raw: () => (read.length ? JSON.stringify(read) : ""),
    setRaw(kept) {
      read = JSON.parse(kept);
      details.open = read.length > 0;
      draw();
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
