/** Oxygen in a room over time: after a spill and a filling, and by evaporation alone. */

import { showNumber } from "../logic/numbers.js";
import { percentAxis, showPercent, some, timeUnit } from "../logic/oxygen.js";
import { el } from "../parts/dom.js";
import { chartKey, courseChart } from "./course.js";

const text = {
  after: "After a spill or a filling",
  evaporation: "From fresh air, by evaporation alone",
  chart: (/** @type {string} */ title) => `Oxygen in the room. ${title}`,
  percent: "% oxygen",
  time: (/** @type {string} */ unit) => `${unit} after it`,
  since: (/** @type {string} */ unit) => `${unit} since it was aired`,
  column: (/** @type {string} */ unit) => `After so many ${unit}`,
  spill: "After a spill",
  filling: "After a filling",
  rest: "By evaporation",
  limit: (/** @type {number} */ percent) => `${showNumber(percent)} %`,
  level: (/** @type {number} */ percent, /** @type {string} */ said) =>
    `${showNumber(percent)} %: ${said}`,
};

/** What a picture has room to say of a level; all of it stands in the list of levels. */
const SAID = new Map([
  [19.5, "the least for going in"],
  [18, "leave at the latest"],
  [14, "judgement is impaired"],
]);

const ROWS = 7;

/** @typedef {import("../logic/oxygen.js").Point} Point */
/** @typedef {{name: string, stroke: "line"|"likely", points: Point[]}} Line */

/** @param {any} left what the service answers @returns {{title: string, chart: Element[], table: Element}[]} */
export function oxygenCharts(left) {
  const said = left.thresholds.map((/** @type {any} */ one) => one.percent);
  const limits = [...new Set(said)].filter((one) => SAID.has(one));
  const { spill, filling, evaporation } = left.curves;
  return [
    part({ title: text.after, limits, axis: text.time }, [
      { name: text.spill, stroke: "line", points: spill },
      { name: text.filling, stroke: "likely", points: filling },
    ]),
    part({ title: text.evaporation, limits, axis: text.since }, [
      { name: text.rest, stroke: "line", points: evaporation },
    ]),
  ];
}

/**
 * @param {{title: string, limits: number[], axis: (unit: string) => string}} spec
 * @param {Line[]} lines
 */
function part({ title, limits, axis }, lines) {
  const last = lines[0].points[lines[0].points.length - 1].hours;
  const { unit, per } = timeUnit(last);
  const chart = courseChart({
    title: text.chart(title),
    unit: { x: axis(unit), y: text.percent },
    most: last * per,
    heights: percentAxis(lines.flatMap(({ points }) => points.map(({ percent }) => percent))),
    limits: limits.map((at) => ({ at, name: text.limit(at) })),
    lines: lines.map(({ stroke, points }) => ({
      stroke,
      points: points.map(({ hours, percent }) => [hours * per, percent]),
    })),
  });
  const key = chartKey([
    ...lines.map(({ stroke, name }) => ({ stroke, words: name })),
    ...limits.map((at) => ({
      stroke: /** @type {const} */ ("limit"),
      words: text.level(at, SAID.get(at) ?? ""),
    })),
  ]);
  return { title, chart: [chart, key], table: table(title, unit, per, lines) };
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
        [text.column(unit), ...lines.map((one) => one.name)].map((one) =>
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
