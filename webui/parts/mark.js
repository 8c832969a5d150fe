/** A stallion's mark: letters on a plate, a pattern round it, the colour of his straws below both. */

import { colourOf, inkOn } from "../logic/marks.js";
import { svg } from "./dom.js";

/** Lines and dots of each pattern on a 40 x 40 field. */
const STROKES = {
  plain: "",
  rise: "M1 12 12 1M1 24 24 1M1 36 36 1M4 39 39 4M16 39 39 16M28 39 39 28",
  fall: "M28 1 39 12M16 1 39 24M4 1 39 36M1 4 36 39M1 16 24 39M1 28 12 39",
  level: "M0 4H40M0 9H40M0 31H40M0 36H40",
  upright: "M4 0V40M10 0V40M30 0V40M36 0V40M16 0V40M24 0V40",
  cross: "M0 5H40M0 35H40M5 0V40M35 0V40M12 0V40M28 0V40",
  ring: "M3 3H37V37H3Z",
  dots: "",
};

/** @param {string} pattern @param {string} ink */
function drawPattern(pattern, ink) {
  if (pattern === "dots") {
    return [5, 15, 25, 35].flatMap((x) =>
      [5, 35].map((y) => svg("circle", { cx: x, cy: y, r: 2.6, fill: ink })),
    );
  }
  const path = STROKES[/** @type {keyof typeof STROKES} */ (pattern)];
  return path ? [svg("path", { d: path, stroke: ink, "stroke-width": 2.2, fill: "none" })] : [];
}

/**
 * @typedef {{name: string, letters: string, pattern: string, colour: string|null}} Mark
 * @param {Mark|undefined} mark @param {{small?: boolean, named?: boolean, colour?: string|null}} [options]
 *   `named`: read out (otherwise the name stands beside it in words)
 */
export function markBadge(mark, { small = false, named = false, colour } = {}) {
  // Null says that nobody knows this batch's colour; then his usual one would mislead.
  const ground = colourOf(colour === undefined ? mark?.colour : colour);
  const node = svg(
    "svg",
    {
      class: `mark ${small ? "mark-small" : ""}`,
      viewBox: "0 0 40 40",
      role: named ? "img" : null,
      "aria-hidden": named ? null : "true",
      "aria-label": named ? mark?.name : null,
    },
    markShapes(mark, ground),
  );
  return node;
}

/** @param {Mark|undefined} mark @param {string} ground */
export function markShapes(mark, ground) {
  const letters = mark?.letters ?? "?";
  return [
    svg("rect", { width: 40, height: 40, rx: 5, fill: ground }),
    svg("g", {}, drawPattern(mark?.pattern ?? "plain", inkOn(ground))),
    svg("rect", { width: 39, height: 39, x: 0.5, y: 0.5, rx: 5, fill: "none", stroke: "#14213a" }),
    svg("rect", { x: 5, y: 11, width: 30, height: 18, rx: 3, fill: "#ffffff" }),
    svg(
      "text",
      {
        x: 20,
        y: 25.5,
        "text-anchor": "middle",
        "font-size": 14,
        "font-weight": 700,
        fill: "#14213a",
      },
      letters,
    ),
  ];
}
