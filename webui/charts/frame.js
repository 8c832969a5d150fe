/** What all pictures have: axes with round figures, named limits, a size that fits a phone. */

import { dates, scale, ticks } from "../logic/nitrogen.js";
import { svg } from "../parts/dom.js";

export const WIDTH = 640;
export const HEIGHT = 300;
const LEFT = 52;
const RIGHT = 12;
const TOP = 14;
const BOTTOM = 34;

/** @typedef {{x: (at: number) => number, y: (value: number) => number}} Plane */

/**
 * @param {{from: number, to: number, most: number, title: string}} span
 *   times in milliseconds
 * @returns {Plane & {node: SVGElement, top: number, bottom: number, left: number, right: number}}
 */
export function frame({ from, to, most, title }) {
  const marks = ticks(most);
  const x = scale([from, to], [LEFT, WIDTH - RIGHT]);
  const y = scale([0, marks[marks.length - 1]], [HEIGHT - BOTTOM, TOP]);
  const node = svg("svg", {
    class: "chart",
    viewBox: `0 0 ${WIDTH} ${HEIGHT}`,
    role: "img",
    "aria-label": title,
  });
  for (const value of marks) {
    node.append(
      svg("line", { x1: LEFT, x2: WIDTH - RIGHT, y1: y(value), y2: y(value), class: "chart-grid" }),
      svg("text", { x: LEFT - 6, y: y(value) + 5, class: "chart-figure", "text-anchor": "end" }, String(value)),
    );
  }
  for (const { at, name } of dates(from, to)) {
    node.append(
      svg("line", { x1: x(at), x2: x(at), y1: HEIGHT - BOTTOM, y2: HEIGHT - BOTTOM + 5, class: "chart-axis" }),
      svg("text", { x: x(at), y: HEIGHT - 8, class: "chart-figure", "text-anchor": "middle" }, name),
    );
  }
  return { node, x, y, top: TOP, bottom: HEIGHT - BOTTOM, left: LEFT, right: WIDTH - RIGHT };
}

/**
 * A named limit across the picture; `along` says how far along its name stands, so that two do not
 * meet.
 * @param {ReturnType<typeof frame>} plane @param {number} value @param {string} name @param {number} [along]
 */
export function limit(plane, value, name, along = 0) {
  const at = plane.y(value);
  plane.node.append(
    svg("line", { x1: plane.left, x2: plane.right, y1: at, y2: at, class: "chart-limit" }),
    svg("text", { x: plane.left + 6 + along * (plane.right - plane.left), y: at - 5, class: "chart-name" }, name),
  );
}

/**
 * A moment, marked and named; names of two moments stand in two lines.
 * @param {ReturnType<typeof frame>} plane @param {number} at @param {string} name @param {number} [line]
 */
export function mark(plane, at, name, line = 0) {
  const x = plane.x(at);
  const late = x > WIDTH * 0.6;
  plane.node.append(
    svg("line", { x1: x, x2: x, y1: plane.top, y2: plane.bottom, class: "chart-mark" }),
    svg(
      "text",
      { x: x + (late ? -5 : 5), y: plane.top + 12 + 24 * line, class: "chart-name", "text-anchor": late ? "end" : "start" },
      name,
    ),
  );
}

/** @param {[number, number][]} points */
export function path(points) {
  return points.map(([x, y], i) => `${i ? "L" : "M"}${x} ${y}`).join("");
}

/** Between two lines. @param {[number, number][]} upper @param {[number, number][]} lower */
export function band(upper, lower) {
  return upper.length ? `${path(upper)}L${path([...lower].reverse()).slice(1)}Z` : "";
}
