/**
 * A line picture whose lower axis counts from a start (days, hours, minutes): as wide as the screen
 * asks for, with limits beside it and a key below it.
 */

import { ticks } from "../logic/nitrogen.js";
import { el, svg } from "../parts/dom.js";
import { path } from "./frame.js";

const NARROW = 380;
const WIDE = 640;
const HEIGHT = 300;
const [LEFT, RIGHT, TOP, BOTTOM] = [40, 56, 26, 46];

/** Strokes that differ without colour. @typedef {"line"|"likely"} Stroke */

/**
 * @param {{title: string, most: number, heights: number[], unit: {x: string, y: string}}} spec
 * @returns {{node: SVGElement, x: (value: number) => number, y: (value: number) => number,
 *   right: number, bottom: number}}
 */
function plane({ title, most, heights, unit }) {
  const width = window.innerWidth < 720 ? NARROW : WIDE;
  const [low, high] = [heights[0], heights[heights.length - 1]];
  const [right, bottom] = [width - RIGHT, HEIGHT - BOTTOM];
  const x = (/** @type {number} */ value) => LEFT + (value / (most || 1)) * (right - LEFT);
  const y = (/** @type {number} */ value) =>
    bottom - ((value - low) / (high - low)) * (bottom - TOP);
  const node = svg("svg", {
    class: "chart chart-course",
    viewBox: `0 0 ${width} ${HEIGHT}`,
    role: "img",
    "aria-label": title,
  });
  for (const value of heights)
    node.append(
      svg("line", { class: "chart-grid", x1: LEFT, x2: right, y1: y(value), y2: y(value) }),
      figure({ x: LEFT - 6, y: y(value) + 5, "text-anchor": "end" }, String(value)),
    );
  for (const value of ticks(most).filter((one) => one <= most * 1.0001))
    node.append(
      svg("line", { class: "chart-axis", x1: x(value), x2: x(value), y1: bottom, y2: bottom + 5 }),
      figure({ x: x(value), y: bottom + 20, "text-anchor": "middle" }, String(value)),
    );
  node.append(
    figure({ x: 4, y: 15 }, unit.y),
    figure({ x: right, y: HEIGHT - 6, "text-anchor": "end" }, unit.x),
  );
  return { node, x, y, right, bottom };
}

/** @param {Record<string, any>} props @param {string} words */
function figure(props, words) {
  return svg("text", { class: "chart-figure", ...props }, words);
}

/**
 * @param {{title: string, unit: {x: string, y: string}, most: number, heights: number[],
 *   lines: {stroke: Stroke, points: [number, number][]}[],
 *   limits?: {at: number, name: string}[], marks?: {at: number, name: string}[]}} spec
 *   `most`: where the lower axis ends; `heights`: the figures beside the picture, lowest first
 */
export function courseChart(spec) {
  const { node, x, y, right, bottom } = plane(spec);
  for (const { at, name } of spec.limits ?? [])
    node.append(
      svg("line", { class: "chart-limit", x1: LEFT, x2: right, y1: y(at), y2: y(at) }),
      svg("text", { class: "chart-name", x: right + 4, y: y(at) + 5 }, name),
    );
  for (const { at, name } of spec.marks ?? [])
    node.append(
      svg("line", { class: "chart-mark", x1: x(at), x2: x(at), y1: TOP, y2: bottom }),
      svg("text", { class: "chart-name", x: x(at), y: TOP - 8, "text-anchor": "middle" }, name),
    );
  for (const { points, stroke } of spec.lines)
    node.append(
      svg("path", { class: `chart-${stroke}`, d: path(points.map(([a, b]) => [x(a), y(b)])) }),
    );
  return node;
}

/** What the strokes mean, below the picture. @param {{stroke: Stroke|"limit"|"mark", words: string}[]} items */
export function chartKey(items) {
  return el(
    "ul",
    { class: "chart-key" },
    items.map(({ stroke, words }) =>
      el(
        "li",
        {},
        svg(
          "svg",
          { viewBox: "0 0 40 10", width: 40, height: 10, "aria-hidden": "true" },
          svg("path", { class: `chart-${stroke}`, d: "M0 5H40" }),
        ),
        el("span", {}, words),
      ),
    ),
  );
}
