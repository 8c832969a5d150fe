/** Papers in a tab of their own, with a link beside for browsers that let no tab be opened. */

import { el, show } from "./dom.js";
import { busy } from "./form.js";
import { problemBox } from "./problem.js";

const text = { open: "Open the paper (PDF)", blocked: "If it did not open by itself:" };

/** @param {string} url */
export function openPaper(url) {
  window.open(url, "_blank", "noopener");
}

/** @param {{url: string, words?: string}} paper */
export function paperLink({ url, words = text.open }) {
  return el("a", { class: "button", href: url, target: "_blank", rel: "noopener" }, words);
}

/** Opened already, and again by hand. @param {string} url @param {import("./dom.js").Children} [next] */
export function openedPaper(url, next) {
  return [el("p", {}, text.blocked), el("p", { class: "ways" }, paperLink({ url }), next)];
}

/**
 * A button for a paper that has to be asked for.
 * @param {{words: string, load: () => Promise<Blob>, signal?: AbortSignal}} spec
 */
export function paperButton({ words, load, signal }) {
  const button = el("button", { type: "button", class: "button" }, words);
  const said = el("div", { class: "form-part" });
  let url = "";
  button.addEventListener("click", async () => {
    busy(button, words, true);
    show(said);
    try {
      const paper = await load();
      if (url) URL.revokeObjectURL(url);
      url = URL.createObjectURL(paper);
      openPaper(url);
      show(said, openedPaper(url));
    } catch (problem) {
      if (!signal?.aborted) show(said, problemBox(problem));
    }
    busy(button, words, false);
  });
  return el("div", { class: "form-part no-print" }, button, said);
}
