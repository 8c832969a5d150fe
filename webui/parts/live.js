/** What a screen reader is told, and the short notes that pass over the page. */

import { el, show } from "./dom.js";

const SHOWN_MS = 8000;

/** Say something to a screen reader without moving the focus. @param {string} text */
export function announce(text) {
  const region = document.getElementById("live");
  if (!region) return;
  region.textContent = "";
  setTimeout(() => {
    region.textContent = text;
  }, 60);
}

/**
 * A note that something was done; it goes by itself, and nothing is lost with it.
 * @param {string} text @param {"done"|"check"} [kind]
 */
export function toast(text, kind = "done") {
  const place = document.getElementById("toasts");
  announce(text);
  if (!place) return;
  const close = el("button", { type: "button", class: "toast-close" }, "Close");
  const note = el("div", { class: `toast toast-${kind}` }, el("p", {}, text), close);
  close.addEventListener("click", () => note.remove());
  show(place, note);
  setTimeout(() => note.remove(), SHOWN_MS);
}
