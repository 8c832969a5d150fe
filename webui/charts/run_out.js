/** Doses that are left of a stallion, month by month: what was used, and how far it lasts. */

import { showNumber } from "../logic/numbers.js";
import { showDay, showMonth } from "../logic/times.js";
import { el, svg } from "../parts/dom.js";
import { chartKey } from "./course.js";
import { band, frame, limit, mark, path } from "./frame.js";

const text = {
  title: (/** @type {string} */ name) =>
    `Doses of ${name}: used in each month, and likely left at the end of the coming ones`,
  today: "today",
  low: "his limit",
  out: "run out",
  likely: "Likely left",
  fan: "Between these in 90 of 100 cases",
  used: "Used in a month",
  columns: ["Month", "Used", "Left at its end", "In 90 of 100"],
  span: (/** @type {string} */ low, /** @type {string} */ high) => `${low} to ${high}`,
};

const BAR = 5;

/** From the first month with a use, half a year at least. @param {any[]} used @param {number} today */
function beginning(used, today) {
  const first = used.find((one) => one.doses > 0);
  const half = today - 183 * 864e5;
  return Math.min(half, first ? Date.parse(first.month) : half);
}

/** @param {any} forecast @param {{name: string, limit?: number|null, today: string}} about */
export function runOutChart(forecast, { name, limit: low, today }) {
  const time = (/** @type {string} */ iso) => Date.parse(iso);
  const now = {
    on: today,
    doses: forecast.doses,
    doses_low: forecast.doses,
    doses_high: forecast.doses,
  };
  const ahead = [now, ...forecast.course];
  const from = beginning(forecast.used, time(today));
  const to = time(ahead[ahead.length - 1].on);
  const used = forecast.used.filter((/** @type {any} */ one) => one.doses > 0);
  const most = Math.max(
    forecast.doses,
    low ?? 0,
    4,
    ...used.map((/** @type {any} */ one) => one.doses),
  );
  const plane = frame({ from, to, most: most * 1.05, title: text.title(name) });
  const { node, x, y } = plane;
  const at = (/** @type {any} */ one, /** @type {string} */ figure) =>
    /** @type {[number, number]} */ ([x(time(one.on)), y(one[figure])]);
  node.append(
    svg("path", {
      class: "chart-fan",
      d: band(
        ahead.map((one) => at(one, "doses_high")),
        ahead.map((one) => at(one, "doses_low")),
      ),
    }),
    svg("path", { class: "chart-likely", d: path(ahead.map((one) => at(one, "doses"))) }),
  );
  for (const one of used) {
    const middle = x(time(one.month) + 15 * 864e5);
    node.append(
      svg("path", {
        class: "chart-filled",
        d: `M${middle - BAR} ${plane.bottom}V${y(one.doses)}h${2 * BAR}V${plane.bottom}Z`,
      }),
    );
  }
  if (low) limit(plane, low, text.low);
  mark(plane, time(today), text.today);
  const out = forecast.runs_out_on;
  if (out && time(out) <= to) mark(plane, time(out), `${text.out} ${showDay(out)}`, 1);
  return [node, key(used.length > 0)];
}

/** @param {boolean} bars */
function key(bars) {
  const items = chartKey([{ stroke: "likely", words: text.likely }]);
  items.append(field("chart-fan", 40, text.fan));
  if (bars) items.append(field("chart-filled", 10, text.used));
  return items;
}

/** @param {string} kind @param {number} width @param {string} words */
function field(kind, width, words) {
  const picture = svg(
    "svg",
    { viewBox: `0 0 ${width} 12`, width, height: 12, "aria-hidden": "true" },
    svg("path", { class: kind, d: `M0 0h${width}v12H0z` }),
  );
  return el("li", {}, picture, el("span", {}, words));
}

/** The same month by month. @param {any} forecast @param {string} name */
export function runOutTable(forecast, name) {
  const first = forecast.used.findIndex((/** @type {any} */ one) => one.doses > 0);
  const past = first < 0 ? [] : forecast.used.slice(first);
  const count = (/** @type {number} */ value) => showNumber(value, { decimals: 1 });
  /** @type {Map<string, string[]>} */
  const rows = new Map(
    past.map((/** @type {any} */ one) => [showMonth(one.month), [count(one.doses), "", ""]]),
  );
  for (const one of forecast.course) {
    const month = showMonth(one.on);
    const between = text.span(count(one.doses_low), count(one.doses_high));
    rows.set(month, [rows.get(month)?.[0] ?? "", count(one.doses), between]);
  }
  return el(
    "table",
    { class: "table" },
    el("caption", {}, text.title(name)),
    el(
      "thead",
      {},
      el(
        "tr",
        {},
        text.columns.map((one) => el("th", { scope: "col" }, one)),
      ),
    ),
    el(
      "tbody",
      {},
      [...rows].map(([month, cells]) =>
        el(
          "tr",
          {},
          el("th", { scope: "row" }, month),
          cells.map((cell) => el("td", {}, cell)),
        ),
      ),
    ),
  );
}
