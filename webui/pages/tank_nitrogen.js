/** One tank's nitrogen: what is the case, what to do, and the pictures behind it. */

import { levelChart } from "../charts/levels.js";
import { lossChart } from "../charts/losses.js";
import { newId } from "../net/acts.js";
import { get, post, search } from "../net/api.js";
import { iMay, moment } from "../net/session.js";
import { showNumber } from "../logic/numbers.js";
import { STATES, WHAT_TO_DO } from "../logic/nitrogen.js";
import { showDay } from "../logic/times.js";
import { dialog } from "../parts/dialog.js";
import { el } from "../parts/dom.js";
import { suggestField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { refresh } from "../parts/go.js";
import { disclosure, empty, factList, growingList, linkButton, page, plainRow, section } from "../parts/page.js";

const text = {
  title: (/** @type {string} */ name) => `Nitrogen in ${name}`,
  back: { href: "#/nitrogen", text: "Nitrogen" },
  tank: "The tank and its straws",
  dip: "Enter a level or top-up",
  now: "Now",
  low: "Below its minimum level: top it up now.",
  overdue: "A reading is overdue.",
  todo: "What to do, in this order",
  weekly: "Weekly levels cannot catch a vacuum that is lost within hours: look for frost and sweat daily.",
  rating: "Too few readings to know this tank’s own loss: the dates go by twice its rated loss.",
  facts: {
    litres: "In it",
    minimum: "Minimum",
    reaches: "At its minimum",
    loss: "Loses",
    rated: "Rated loss",
    settled: "Used to lose",
    changed: "Changed about",
    heat: "Heat leak",
    last: "Last read",
    used: "Readings used",
  },
  litres: (/** @type {any} */ one) =>
    `${amount(one.litres)} litres (${amount(one.litres_low)} to ${amount(one.litres_high)})`,
  minimum: (/** @type {any} */ one) =>
    `${amount(one.minimum_level_cm)} cm, ${amount(one.minimum_litres)} litres`,
  reaches: (/** @type {any} */ one) =>
    `likely on ${showDay(one.reaches_minimum_on)}, as early as ${showDay(one.reaches_minimum_earliest_on)}`,
  loss: (/** @type {any} */ one) =>
    `${fine(one.loss_litres_per_day)} litres a day (${fine(one.loss_low)} to ${fine(one.loss_high)}), ${amount(one.ratio_to_rated)} times its rating`,
  perDay: (/** @type {number} */ value) => `${fine(value)} litres a day`,
  heat: (/** @type {number} */ watts) => `at least ${fine(watts)} watts, by the latent heat alone`,
  interval: "In brackets: within these bounds with 90 %.",
  levels: "Litres in it, and how it goes on",
  levelsHint:
    "The line is what was read; triangles are top-ups; ? is far off its neighbours, × is struck. Dashed and shaded: the forecast if nobody fills it.",
  losses: "Litres it loses a day",
  lossesHint: "Shaded: within these bounds with 90 %. Dotted: what its maker says, and twice that.",
  noLosses: "Not known yet.",
  table: "As a table",
  columns: ["When", "Litres", "cm", "What"],
  lossColumns: ["When", "Litres a day", "From", "To"],
  filled: "top-up",
  struck: "struck",
  questioned: "far off",
  readings: "What was entered",
  none: "Nothing was entered yet.",
  strike: "Strike",
  strikeTitle: "Strike this reading?",
  strikeLead: "It stays readable, and does not count any more.",
  reason: "Reason",
  reasons: ["misread", "another tank", "wrong unit"],
  by: (/** @type {any} */ one) => `struck by ${one.struck.by}: ${one.struck.reason}`,
};

const amount = (/** @type {number} */ value) => showNumber(value, { decimals: 1 });
const fine = (/** @type {number} */ value) => showNumber(value, { decimals: 2 });

/** @param {any} now */
function headline(now) {
  const state = STATES[/** @type {import("../logic/nitrogen.js").State} */ (now.state)];
  return el(
    "section",
    { class: `tank-state tank-state-${state.kind}` },
    el("p", { class: "tank-state-word" }, el("span", { "aria-hidden": "true" }, `${state.sign} `), state.word),
    el("p", {}, now.why),
    now.below_minimum && el("p", {}, el("strong", {}, text.low)),
    now.reading_overdue && el("p", {}, el("strong", {}, text.overdue)),
    now.by_rating && el("p", {}, text.rating),
  );
}

/** @param {any} now */
function whatToDo(now) {
  const steps = WHAT_TO_DO[/** @type {"failing"} */ (now.state)];
  if (!steps) return el("p", { class: "hint" }, text.weekly);
  return section(
    text.todo,
    el("ol", { class: "steps" }, steps.map((one) => el("li", {}, one))),
    el("p", { class: "hint" }, text.weekly),
  );
}

/** @param {any} now */
function figures(now) {
  const known = now.loss_litres_per_day !== null;
  return [
    factList([
      [text.facts.litres, now.litres !== null && text.litres(now)],
      [text.facts.minimum, text.minimum(now)],
      [text.facts.reaches, now.reaches_minimum_on && text.reaches(now)],
      [text.facts.loss, known && text.loss(now)],
      [text.facts.rated, text.perDay(now.rated_loss_litres_per_day)],
      [
        text.facts.settled,
        now.settled_loss_litres_per_day !== null && text.perDay(now.settled_loss_litres_per_day),
      ],
      [text.facts.changed, now.changed_at && moment(now.changed_at)],
      [text.facts.heat, now.heat_leak_watts !== null && text.heat(now.heat_leak_watts)],
      [text.facts.last, now.last_read_at && moment(now.last_read_at)],
      [text.facts.used, String(now.readings_used)],
    ]),
    el("p", { class: "hint" }, text.interval),
  ];
}

/** @param {string[]} columns @param {(string|null)[][]} rows */
function table(columns, rows) {
  return el(
    "div",
    { class: "table-scroll", tabindex: "0", role: "region", "aria-label": text.table },
    el(
      "table",
      {},
      el("thead", {}, el("tr", {}, columns.map((one) => el("th", { scope: "col" }, one)))),
      el("tbody", {}, rows.map((row) => el("tr", {}, row.map((one) => el("td", {}, one ?? ""))))),
    ),
  );
}

/** @param {any} history */
function levelRows(history) {
  const read = history.readings.map((/** @type {any} */ one) => ({
    at: one.at,
    row: [
      moment(one.at),
      amount(one.litres),
      amount(one.level_cm),
      [...one.signs, one.struck && text.struck, one.questioned && text.questioned].filter(Boolean).join(", "),
    ],
  }));
  const filled = history.top_ups.map((/** @type {any} */ one) => ({
    at: one.at,
    row: [
      moment(one.at),
      one.litres_added === null ? amount(one.litres_after) : `+ ${amount(one.litres_added)}`,
      "",
      one.struck ? `${text.filled}, ${text.struck}` : text.filled,
    ],
  }));
  return [...read, ...filled].sort((a, b) => (a.at < b.at ? 1 : -1)).map((one) => one.row);
}

/** @param {any} history @param {string} name */
function pictures(history, name) {
  const losses = [...history.losses].reverse();
  return [
    section(
      text.levels,
      levelChart(history, name),
      el("p", { class: "hint" }, text.levelsHint),
      disclosure(text.table, table(text.columns, levelRows(history))),
    ),
    section(
      text.losses,
      losses.length
        ? [
            lossChart(history, name),
            el("p", { class: "hint" }, text.lossesHint),
            disclosure(
              text.table,
              table(
                text.lossColumns,
                losses.map((one) => [
                  moment(one.at),
                  fine(one.loss_litres_per_day),
                  fine(one.loss_low),
                  fine(one.loss_high),
                ]),
              ),
            ),
          ]
        : empty(text.noLosses),
    ),
  ];
}

/** @param {string} tankId @param {any} one */
function reading(tankId, one) {
  const strike = el("button", { type: "button", class: "button button-quiet" }, text.strike);
  strike.setAttribute("aria-label", `${text.strike}: ${moment(one.measured_at)}`);
  strike.addEventListener("click", () => askWhy(`/tanks/${tankId}/levels/${one.id}/strike`));
  const figure = one.litres === null ? "" : `${amount(one.litres)} litres, ${amount(one.level_cm)} cm`;
  return plainRow({
    title: one.struck ? el("s", {}, figure) : figure,
    detail: [
      `${moment(one.measured_at)} · ${one.by}`,
      one.signs.length > 0 && ` · ${one.signs.join(", ")}`,
      one.note && [el("br"), one.note],
      one.struck && [el("br"), text.by(one)],
    ],
    end: !one.struck && iMay("book") && strike,
  });
}

/** @param {string} path */
function askWhy(path) {
  const id = newId();
  return dialog(text.strikeTitle, (close) => {
    const reason = suggestField({
      name: "reason",
      label: text.reason,
      required: true,
      suggestions: text.reasons,
    });
    const built = form({
      key: `strike:${path}`,
      draft: false,
      submit: text.strike,
      fields: () => [reason],
      body: [el("p", {}, text.strikeLead), reason.node],
      send: async (values) => {
        await post(path, { id, ...values });
        close();
        refresh();
      },
    });
    return built.node;
  });
}

/** @param {import("../parts/page.js").Context} context */
export default async function tankNitrogenPage({ params }) {
  const path = `/tanks/${params.id}`;
  const [now, history] = await Promise.all([
    get(`${path}/nitrogen`),
    get(`${path}/nitrogen/history${search({ days: 365 })}`),
  ]);
  const entered = await growingList({
    label: text.readings,
    none: empty(text.none),
    row: (one) => reading(params.id, one),
    load: (after) => get(`${path}/levels${search({ limit: 10, after })}`),
  });
  return page(
    { title: text.title(now.tank_name), back: text.back },
    headline(now),
    iMay("book") &&
      linkButton({ href: `#/bank/tank/${params.id}/dip`, text: text.dip, kind: "primary" }),
    whatToDo(now),
    section(text.now, figures(now)),
    pictures(history, now.tank_name),
    section(text.readings, entered),
    el("p", { class: "ways" }, linkButton({ href: `#/bank/tank/${params.id}`, text: text.tank })),
  );
}
