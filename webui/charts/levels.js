/** A tank's levels: what was read, what was filled in, and how it goes on if nobody fills it. */

import { beginning } from "../logic/nitrogen.js";
import { showDay } from "../logic/times.js";
import { svg } from "../parts/dom.js";
import { band, frame, limit, mark, path } from "./frame.js";

const text = {
  title: (/** @type {string} */ name) => `Litres in ${name}, as read, and the forecast`,
  minimum: "minimum",
  today: "today",
};

/** @param {any} history @param {string} name */
export function levelChart(history, name) {
  const time = (/** @type {string} */ iso) => Date.parse(iso);
  const ahead = history.forecast.filter((/** @type {any} */ one) => one.litres_high > 0);
  const plane = frame({
    from: beginning(history),
    to: Math.max(time(history.as_of), ...ahead.map((/** @type {any} */ one) => time(one.at))),
    most: history.capacity_litres,
    title: text.title(name),
  });
  const { node, x, y } = plane;
  const at = (/** @type {any} */ one, /** @type {string} */ figure) =>
    /** @type {[number, number]} */ ([x(time(one.at)), y(one[figure])]);
  node.append(
    svg("path", {
      class: "chart-fan",
      d: band(
        ahead.map((/** @type {any} */ one) => at(one, "litres_high")),
        ahead.map((/** @type {any} */ one) => at(one, "litres_low")),
      ),
    }),
    svg("path", {
      class: "chart-likely",
      d: path(ahead.map((/** @type {any} */ one) => at(one, "litres"))),
    }),
  );
  const standing = history.readings.filter((/** @type {any} */ one) => !one.struck);
  for (const run of runs(standing, history.top_ups))
    node.append(svg("path", { class: "chart-line", d: path(run.map((one) => at(one, "litres"))) }));
  for (const one of history.readings) {
    const [cx, cy] = at(one, "litres");
    if (one.struck || one.questioned)
      node.append(
        svg("text", { x: cx, y: cy + 5, class: "chart-odd", "text-anchor": "middle" }, one.struck ? "×" : "?"),
      );
  }
  for (const one of history.top_ups) {
    if (one.struck) continue;
    const at_ = x(time(one.at));
    node.append(
      svg("path", { class: "chart-filled", d: `M${at_ - 5} ${plane.bottom}h10l-5 -9z` }),
    );
  }
  limit(plane, history.minimum_litres, text.minimum);
  mark(plane, time(history.as_of), text.today);
  const reached = history.reaches_minimum_on;
  if (reached && time(reached) <= Math.max(...ahead.map((/** @type {any} */ one) => time(one.at))))
    mark(plane, time(reached), showDay(reached), 1);
  return node;
}

/** Readings between two top-ups: no line runs over one. @param {any[]} readings @param {any[]} topUps */
function runs(readings, topUps) {
  const ends = topUps.filter((one) => !one.struck).map((one) => Date.parse(one.at));
  /** @type {any[][]} */
  const found = [[]];
  for (const one of readings) {
    const last = found[found.length - 1].at(-1);
    if (last && ends.some((end) => Date.parse(last.at) <= end && end < Date.parse(one.at)))
      found.push([]);
    if (!one.questioned) found[found.length - 1].push(one);
  }
  return found.filter((run) => run.length);
}
