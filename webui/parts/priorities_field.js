/** Which alerts a channel takes. */

import { el, freshId } from "./dom.js";
import { messages } from "./fields.js";

const text = {
  label: "Which alerts it takes",
  options: {
    critical: {
      text: "Critical",
      hint: "Straws may be lost within hours. Also at night.",
    },
    medium: { text: "Today", hint: "Somebody acts today. Not in quiet hours." },
  },
  inWords: (/** @type {string[]} */ value) => value.join(", ") || "none",
};

/** What is for this week is in the daily summary alone. @param {string[]} chosen @returns {import("./fields.js").Field} */
export function prioritiesField(chosen) {
  const rows = Object.entries(text.options).map(([value, words]) => ({
    value,
    words,
    input: el("input", {
      type: "checkbox",
      id: freshId("priority"),
      checked: chosen.includes(value),
    }),
  }));
  const node = el(
    "fieldset",
    { class: "field choices" },
    el("legend", {}, text.label),
    rows.map(({ words, input }) =>
      el(
        "label",
        { class: "choice", for: input.id },
        input,
        el("span", {}, words.text, el("span", { class: "hint" }, words.hint)),
      ),
    ),
  );
  const said = messages(node);
  node.append(...said.nodes);
  const kept = chosen.filter((one) => !(one in text.options));
  const now = () => [
    ...rows.filter(({ input }) => input.checked).map(({ value }) => value),
    ...kept,
  ];
  return {
    name: "priorities",
    node,
    complain: said.complain,
    warn: said.warn,
    raw: () => JSON.stringify(now()),
    setRaw(raw) {
      const wanted = JSON.parse(raw);
      for (const { value, input } of rows) input.checked = wanted.includes(value);
    },
    focus: () => rows[0].input.focus(),
    read: () => ({ ok: true, value: now() }),
    inWords: text.inWords,
  };
}
