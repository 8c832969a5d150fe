/**
 * What became of a scan, told in four ways at once: a word, an icon, a colour and a tone. The code
 * is read back large, with the facts that a person can check against what is in the hand.
 */

import { codeText, el } from "./dom.js";
import { announce } from "./live.js";
import { sound } from "./tones.js";

/**
 * @typedef {object} Said
 * @property {"done"|"check"|"refused"|"again"} kind
 * @property {string} text
 * @property {string} [word]    instead of the usual one
 * @property {string} [code]    read back large
 * @property {(string|null|undefined|false)[]} [facts]  name, place
 */

const ICON = { done: "✓", check: "?", refused: "✕", again: "↺" };
const text = {
  words: { done: "Done", check: "Check this", refused: "Stop", again: "Once is enough" },
};
/** A refusal stays in sight for so long, whatever comes after it. */
const REFUSED_STAYS_MS = 6000;

/** @param {Said} said */
export function saidNode(said) {
  const facts = (said.facts ?? []).filter(Boolean);
  return el(
    "div",
    { class: `scan-one scan-${said.kind}` },
    el(
      "p",
      { class: "scan-word" },
      el("span", { class: "scan-icon", "aria-hidden": "true" }, ICON[said.kind]),
      said.word ?? text.words[said.kind],
    ),
    said.code && el("p", { class: "scan-code" }, codeText(said.code)),
    facts.length > 0 && el("p", { class: "scan-facts" }, facts.join(" · ")),
    el("p", {}, said.text),
  );
}

/** @param {Said} said */
export function sayAloud(said) {
  sound(said.kind);
  const facts = (said.facts ?? []).filter(Boolean).join(", ");
  announce([said.word ?? text.words[said.kind], said.text, facts].filter(Boolean).join(". "));
}

/**
 * Show it in its place: the newest on top, and below it refusals that came just before.
 * @param {HTMLElement} place @param {Said} said
 */
export function tell(place, said) {
  const now = performance.now();
  const still = [.../** @type {HTMLCollectionOf<HTMLElement>} */ (place.children)].filter(
    (one) => now - Number(one.dataset.refusedAt ?? -Infinity) < REFUSED_STAYS_MS,
  );
  const node = saidNode(said);
  if (said.kind === "refused") node.dataset.refusedAt = String(now);
  place.replaceChildren(node, ...still.slice(0, 2));
  node.scrollIntoView({ block: "nearest" });
  sayAloud(said);
}
