/** Naming straws by code where the person wants to be certain: scanned one by one, or none at all. */

import { get } from "../net/api.js";
import { groupedCode, otherKindInWords } from "../logic/codes.js";
import { codeText, el, show } from "./dom.js";
import { factsOf } from "./found.js";
import { disclosure } from "./page.js";
import { scanField } from "./scan.js";

const text = {
  title: "Or name them by code",
  label: "Code of a straw in your hand",
  hint: "With codes read, exactly these straws are booked. Without, the number is.",
  added: "Read.",
  again: "That one is read already.",
  notHere: "That code is not among these straws. It is booked if it is a twin of one of them.",
  wrong: "Wrong stallion",
  otherStallion: (/** @type {string} */ name) => `This straw is ${name}’s. It is not added.`,
  batchWord: "Wrong batch",
  otherBatch: (/** @type {string} */ code) =>
    `This straw is of batch ${groupedCode(code)}. It is not added.`,
  offline: "Read. It could not be looked up now: no answer. Compare its mark by eye.",
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
 * What speaks against a straw that was looked up.
 * @param {any} found @param {PickerSpec} spec @returns {import("./said.js").Said|null}
 */
function against(found, { stallion_id, batch_ids }) {
  const facts = factsOf(found);
  if (stallion_id && found.stallion_id !== stallion_id)
    return {
      kind: "refused",
      word: text.wrong,
      text: text.otherStallion(found.stallion_name),
      facts,
    };
  if (batch_ids && !batch_ids.includes(found.batch_id))
    return {
      kind: "refused",
      word: text.batchWord,
      text: text.otherBatch(found.batch_code),
      facts,
    };
  return null;
}

/**
 * @typedef {object} PickerSpec
 * @property {string[]} [codes]  those the book expects here; others may be twins
 * @property {string} [stallion_id]  whose straws they must be
 * @property {string[]} [batch_ids]  of which batches
 * @property {string} [title]
 * @property {string} [hint]
 * @property {(code: string) => Promise<import("./said.js").Said>} [goblet]
 *   what a goblet's plate does here; without, it is refused
 */

/** @param {PickerSpec} spec */
export function codePicker(spec) {
  const { codes, title = text.title, hint = text.hint, goblet } = spec;
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
    got: async (code, kind) => {
      if (kind === "goblet" && goblet) return goblet(code);
      if (kind !== "straw") return { kind: "refused", text: otherKindInWords(kind, ["straw"]) };
      if (read.includes(code)) return { kind: "check", text: text.again };
      try {
        const found = await get(`/scan/${code}`);
        const no = against(found, spec);
        if (no) return no;
        if (!read.includes(code)) set([...read, code]);
        const expected = !codes || codes.includes(code);
        return {
          kind: expected ? "done" : "check",
          text: expected ? text.added : text.notHere,
          facts: factsOf(found),
        };
      } catch (problem) {
        const { status, message } = /** @type {any} */ (problem);
        if (status) return { kind: "refused", text: message };
        if (!read.includes(code)) set([...read, code]);
        return { kind: "check", text: text.offline };
      }
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
