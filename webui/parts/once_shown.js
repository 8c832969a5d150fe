/** Something secret that is shown this once: the text itself, and a button that copies it. */

import { el, show } from "./dom.js";

const text = {
  copy: "Copy it",
  copied: "Copied.",
  byHand: "This browser does not copy by itself. The text is marked: copy it by hand.",
};

/** @param {string} lead what it is and where it goes @param {string} secret */
export function onceShown(lead, secret) {
  const field = el("input", {
    type: "text",
    class: "calendar-address",
    readonly: true,
    value: secret,
    "aria-label": lead,
  });
  const said = el("p", { class: "hint", "aria-live": "polite" });
  const copy = el("button", { type: "button", class: "button" }, text.copy);
  copy.addEventListener("click", async () => {
    field.select();
    try {
      await navigator.clipboard.writeText(secret);
      show(said, text.copied);
    } catch {
      show(said, text.byHand); // no clipboard on plain http: it is marked
    }
  });
  return el(
    "div",
    { class: "notice notice-good", tabindex: "-1" },
    el("p", {}, el("strong", {}, lead)),
    field,
    copy,
    said,
  );
}
