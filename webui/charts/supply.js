/** What is in the supply vessel if the plan is followed, with its deliveries. */

import { ticks } from "../logic/nitrogen.js";
import { showNumber } from "../logic/numbers.js";
import { showWeekday } from "../logic/times.js";
import { el } from "../parts/dom.js";
import { chartKey, courseChart } from "./course.js";

const text = {
  title: "Litres in the supply vessel if the plan is followed",
  x: (/** @type {string} */ day) => `days from ${day} on`,
  y: "litres",
  course: "In the vessel each evening",
  holds: (/** @type {number} */ litres) => `It holds ${showNumber(litres)} litres`,
  arrives: "A delivery, with its litres",
  day: "Evening of",
  litres: "Litres",
};

/** @param {string} from @param {string} to */
function daysBetween(from, to) {
  return Math.round((Date.parse(to) - Date.parse(from)) / 864e5);
}

/** @param {any} supply @param {any[]} deliveries */
export function supplyChart(supply, deliveries) {
  const days = supply.days;
  const from = days[0].date;
  const last = daysBetween(from, days[days.length - 1].date);
  const coming = deliveries
    .map((one) => ({ at: daysBetween(from, one.on), name: `+${showNumber(one.litres)}` }))
    .filter(({ at }) => at >= 0 && at <= last);
  const holds = supply.capacity_litres;
  const top = Math.max(holds ?? 0, ...days.map((/** @type {any} */ one) => one.litres), 1);
  const chart = courseChart({
    title: text.title,
    unit: { x: text.x(showWeekday(from)), y: text.y },
    most: last,
    heights: ticks(top),
    limits: holds === null ? [] : [{ at: holds, name: showNumber(holds) }],
    marks: coming,
    lines: [
      {
        stroke: "line",
        points: days.map((/** @type {any} */ one) => [
          daysBetween(from, one.date),
          Math.max(0, one.litres),
        ]),
      },
    ],
  });
  const key = chartKey([
    { stroke: "line", words: text.course },
    ...(coming.length ? [{ stroke: /** @type {const} */ ("mark"), words: text.arrives }] : []),
    ...(holds === null
      ? []
      : [{ stroke: /** @type {const} */ ("limit"), words: text.holds(holds) }]),
  ]);
  return [chart, key];
}

/** The same day by day. @param {any} supply */
export function supplyTable(supply) {
  return el(
    "table",
    { class: "table" },
    el("caption", {}, text.title),
    el(
      "thead",
      {},
      el("tr", {}, el("th", { scope: "col" }, text.day), el("th", { scope: "col" }, text.litres)),
    ),
    el(
      "tbody",
      {},
      supply.days.map((/** @type {any} */ one) =>
        el(
          "tr",
          {},
          el("th", { scope: "row" }, showWeekday(one.date)),
          el("td", {}, showNumber(one.litres, { decimals: 0, down: true })),
        ),
      ),
    ),
  );
}
