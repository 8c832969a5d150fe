/** Oxygen in a room over time: after a spill and a filling, and by evaporation alone. */

import { showNumber } from "../logic/numbers.js";
import { percentAxis, showPercent, some, timeUnit } from "../logic/oxygen.js";
import { el } from "../parts/dom.js";
import { courseChart } from "./course.js";

const text = {
  after: "After a spill or a filling",
  evaporation: "From fresh air, by evaporation alone",
  chart: (/** @type {string} */ title) => `Oxygen in the room. ${title}`,
  percent: "% oxygen",
  time: (/** @type {string} */ unit) => `${unit} after it`,
  since: (/** @type {string} */ unit) => `${unit} since it was aired`,
  column: (/** @type {string} */ unit) => `After so many ${unit}`,
  spill: "spill",
  filling: "filling",
  rest: "evaporation",
  spillColumn: "A spill",
  fillingColumn: "A filling",
  restColumn: "Evaporation",
};

/** What a picture has room to say of a level; all of it stands in the list of levels. */
const SAID = new Map([
  [19.5, "19.5 %: least for going in"],
  [18, "18 %: leave at the latest"],
  [14, "14 %: judgement impaired"],
]);

const ROWS = 7;

/** @typedef {import("../logic/oxygen.js").Point} Point */
/** @typedef {{name: string, column: string, stroke: "line"|"likely", points: Point[],
 *   nameAt?: number}} Line */

/** @param {any} left what the service answers @returns {{title: string, chart: Element, table: Element}[]} */
export function oxygenCharts(left) {
  const said = left.thresholds.map((/** @type {any} */ one) => one.percent);
  const limits = [...new Set(said)].filter((one) => SAID.has(one));
  const { spill, filling, evaporation } = left.curves;
  return [
    part({ title: text.after, limits, axis: text.time }, [
      { name: text.spill, column: text.spillColumn, stroke: "line", points: spill, nameAt: 0.12 },
      { name: text.filling, column: text.fillingColumn, stroke: "likely", points: filling },
    ]),
    part({ title: text.evaporation, limits, axis: text.since, left: true }, [
      { name: text.rest, column: text.restColumn, stroke: "line", points: evaporation },
    ]),
  ];
}

/**
 * @param {{title: string, limits: number[], axis: (unit: string) => string, left?: boolean}} spec
 *   `left`: the levels are named there, because the line falls on the right
 * @param {Line[]} lines
 */
function part({ title, limits, axis, left }, lines) {
  const last = lines[0].points[lines[0].points.length - 1].hours;
  const { unit, per } = timeUnit(last);
  const chart = courseChart({
    title: text.chart(title),
    unit: { x: axis(unit), y: text.percent },
    most: last * per,
    heights: percentAxis(lines.flatMap(({ points }) => points.map(({ percent }) => percent))),
    limits: limits.map((at) => ({ at, name: SAID.get(at) ?? "", left })),
    lines: lines.map(({ points, ...line }) => ({
      ...line,
      points: points.map(({ hours, percent }) => [hours * per, percent]),
    })),
  });
  return { title, chart, table: table(title, unit, per, lines) };
}

/** @param {string} title @param {string} unit @param {number} per @param {Line[]} lines */
function table(title, unit, per, lines) {
  const columns = lines.map(({ points }) => some(points, ROWS));
  return el(
    "table",
    { class: "table" },
    el("caption", {}, title),
    el(
      "thead",
      {},
      el(
        "tr",
        {},
        [text.column(unit), ...lines.map((one) => one.column)].map((one) =>
          el("th", { scope: "col" }, one),
        ),
      ),
    ),
    el(
      "tbody",
      {},
      columns[0].map(({ hours }, i) =>
        el(
          "tr",
          {},
          el("th", { scope: "row" }, showNumber(hours * per, { decimals: 1 })),
          columns.map((points) => el("td", {}, showPercent(points[i].percent))),
        ),
      ),
    ),
  );
}
