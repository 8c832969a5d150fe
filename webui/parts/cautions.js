/**
 * Cautions that belong beside the work. They never stand above local codes of practice, the
 * freezing laboratory's card or licensed practice, and say so.
 */

import { el } from "./dom.js";

const text = {
  lifting: {
    title: "Before you lift",
    lines: [
      "Never alone, and never while an oxygen alarm sounds: stay out, fetch help. An open door is not ventilation.",
      "Face shield, loose cryogenic gloves, closed shoes, nothing on you that could hold a splash.",
      "One lift at a time, the straws only seconds above the frost line. Lower them again rather than hurry.",
      "Your local rules and licensed practice come before this page.",
    ],
  },
  thawing: {
    title: "Before you thaw",
    lines: [
      "The freezing laboratory’s own card comes before the steps on this page.",
      "Read the mark on the straw aloud, against mare and stallion, before you load it.",
      "Protect your eyes: a straw that leaked can burst in the warm water. Dry it before you cut it.",
      "What has thawed never goes back.",
      "The calculation helps; the vet decides.",
    ],
  },
  moving: {
    title: "Before you move straws",
    lines: [
      "Have the new goblet cold and ready first. One lift at a time, seconds above the frost line.",
      "Lower the straws again rather than hurry. If any may have warmed, discard them in the book; do not move them.",
      "Never alone, with face shield and cryogenic gloves, and never while an oxygen alarm sounds.",
      "Your local rules come before this page.",
    ],
  },
  dispatching: {
    title: "Before it leaves",
    lines: [
      "Straws only seconds above the frost line on their way into a container that is cold through.",
      "A dry shipper carries no free liquid, however it is turned: pour it out. Keep it upright.",
      "Never close a vessel that boils off gas. Never share a lift with a filled one.",
      "In a vehicle: air it, strap the container, and tell the driver what it is.",
      "The calculation of how long it holds helps; its weight on the way decides.",
      "Your local rules, the carrier’s, and the official vet’s certificate come before this page.",
    ],
  },
  relocating: {
    title: "Before you move it",
    lines: [
      "Two people: one lifts, one reads aloud and books. Never alone, and never while an oxygen alarm sounds.",
      "Have the new place open and full of nitrogen first, side by side with the old one. From nitrogen into nitrogen within seconds.",
      "Face shield, cryogenic gloves, closed shoes. If it stood out for longer, the straws may have warmed: put them aside and decide by your local rules.",
      "Your local rules come before this page.",
    ],
  },
  dipping: {
    title: "Before you measure or fill",
    lines: [
      "Never alone, and never while an oxygen alarm sounds: stay out, fetch help.",
      "Face shield, loose cryogenic gloves, closed shoes.",
      "Measure with a solid rod, never with a tube: nitrogen shoots out of it.",
      "Your local rules come before this page.",
    ],
  },
  shortLift: "Seconds above the frost line. Lower again rather than hurry.",
};

/** @param {"lifting"|"thawing"|"moving"|"dispatching"|"relocating"|"dipping"} kind */
export function caution(kind) {
  const { title, lines } = text[kind];
  return el(
    "aside",
    { class: "caution", "aria-label": title },
    el("h3", {}, title),
    el(
      "ul",
      {},
      lines.map((line) => el("li", {}, line)),
    ),
  );
}

export function shortCaution() {
  return el("p", { class: "caution" }, text.shortLift);
}
