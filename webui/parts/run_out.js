/** When a stallion's doses run out: the sentence, the picture, the table. */

import { runOutChart, runOutTable } from "../charts/run_out.js";
import { today } from "../net/session.js";
import { el } from "./dom.js";
import { disclosure, section } from "./page.js";

const text = {
  title: "When will he run out?",
  hint: "By what was used of him in other months and the season of all stallions here. Straws on hold, of other owners and in the reserve do not count.",
  table: "As a table",
};

/** @param {any} forecast  what `GET /stallions/ID/run-out` answers @param {{name: string, limit?: number|null}} stallion */
export function runOutPart(forecast, { name, limit }) {
  return section(
    text.title,
    el("p", {}, forecast.why),
    forecast.course.length > 0 &&
      forecast.doses > 0 && [
        ...runOutChart(forecast, { name, limit, today: today() }),
        el("p", { class: "hint" }, text.hint),
        disclosure(text.table, runOutTable(forecast, name)),
      ],
  );
}
