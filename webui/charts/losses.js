/** What a tank loses a day, over time, beside its maker's figure and its own settled past. */

import { beginning } from "../logic/nitrogen.js";
import { svg } from "../parts/dom.js";
import { band, frame, limit, mark, path } from "./frame.js";

const text = {
  title: (/** @type {string} */ name) => `Litres a day that ${name} loses`,
  rated: "rated",
  twice: "twice rated",
  settled: "settled past",
  changed: "changed",
};

/** @param {any} history @param {string} name */
export function lossChart(history, name) {
  const time = (/** @type {string} */ iso) => Date.parse(iso);
  const rated = history.rated_loss_litres_per_day;
  const most = Math.max(
    2.3 * rated,
    ...history.losses.map((/** @type {any} */ one) => one.loss_litres_per_day * 1.15),
  );
  const plane = frame({
    from: beginning(history),
    to: time(history.as_of),
    most,
    title: text.title(name),
  });
  const at = (/** @type {any} */ one, /** @type {number} */ value) =>
    /** @type {[number, number]} */ ([plane.x(time(one.at)), plane.y(Math.min(value, most))]);
  plane.node.append(
    svg("path", {
      class: "chart-fan",
      d: band(
        history.losses.map((/** @type {any} */ one) => at(one, one.loss_high)),
        history.losses.map((/** @type {any} */ one) => at(one, one.loss_low)),
      ),
    }),
    svg("path", {
      class: "chart-line",
      d: path(history.losses.map((/** @type {any} */ one) => at(one, one.loss_litres_per_day))),
    }),
  );
  limit(plane, rated, text.rated, 0.3);
  limit(plane, 2 * rated, text.twice);
  if (history.settled_loss_litres_per_day !== null && history.changed_at)
    limit(plane, history.settled_loss_litres_per_day, text.settled, 0.55);
  if (history.changed_at) mark(plane, time(history.changed_at), text.changed);
  return plane.node;
}
