/** The next rounds: which tank gets how much on which day and why, and whether the nitrogen lasts. */

import { get } from "../net/api.js";
import { today } from "../net/session.js";
import { plural, showNumber } from "../logic/numbers.js";
import { showWeekday } from "../logic/times.js";
import { supplyChart, supplyTable } from "../charts/supply.js";
import { el } from "../parts/dom.js";
import { badge, disclosure, empty, factList, linkButton, page, section } from "../parts/page.js";
import { calendarPart } from "../parts/round_calendar.js";

const text = {
  title: "The next rounds",
  back: { href: "#/nitrogen", text: "Nitrogen" },
  lead: (/** @type {any} */ plan) =>
    `Until ${showWeekday(plan.until)}: as few visits as keep every tank above its minimum, each with ${showNumber(plan.confidence_percent)}\u00a0% certainty.`,
  none: "No tank needs nitrogen until then.",
  warnings: "Look at this first",
  ahead: "How far ahead",
  days: (/** @type {number} */ days) => plural(days, "day"),
  today: "today",
  offDay: "not a fill day",
  visit: (/** @type {any} */ visit) =>
    `${plural(visit.tanks, "tank")}, about ${litres(visit.litres)} in all; have ${litres(visit.litres_most)} ready.`,
  least: (/** @type {number} */ amount) => `about ${litres(amount, 1)}`,
  most: (/** @type {number} */ amount) => `at most ${litres(amount, 1)}`,
  causes: {
    failing: "failing",
    rising: "loses more",
    unread: "never read",
    "by-rating": "by rating",
  },
  missed: "If this visit is missed: ",
  short: (/** @type {number} */ amount) => `The supply vessel lacks ${litres(amount)}.`,
  after: (/** @type {number} */ amount) => `Left in the supply vessel: ${litres(amount)}.`,
  supply: "Supply vessel",
  unknown: "What is in it is not known, so whether it lasts cannot be said.",
  shortage: (/** @type {any} */ one) =>
    `A delivery is needed by ${showWeekday(one.needed_by)}: ${litres(one.litres)} or more. ${
      one.late_delivery_on ? `The one of ${showWeekday(one.late_delivery_on)} comes too late.` : ""
    }`,
  enough: "What is in it, with the deliveries that are entered, is enough for these rounds.",
  spill: "What boils off while filling comes on top.",
  now: "In it this evening",
  read: "Read",
  readAt: (/** @type {any} */ supply) =>
    `${litres(supply.measured_litres)} on ${showWeekday(supply.measured_on)}`,
  loss: "Loses by itself",
  lossADay: (/** @type {number} */ amount) => `${litres(amount, 1)} a day`,
  deliveries: "Deliveries",
  delivery: (/** @type {any} */ one) => `${showWeekday(one.on)}: ${litres(one.litres)}`,
  noDelivery: "none is entered",
  table: "The same day by day",
  print: "Print this list",
  plan: "Fill days, supply and deliveries",
};

const SPANS = [30, 60, 120, 366];
const USUAL = 60;

/** @param {number} amount @param {number} [decimals] */
function litres(amount, decimals = 0) {
  return `${showNumber(amount, { decimals })}\u00a0litres`;
}

/** @param {any} one */
function tankRow(one) {
  const cause = /** @type {Record<string, string>} */ (text.causes)[one.cause];
  const kind = one.cause === "failing" ? "bad" : "warn";
  return el(
    "li",
    { class: "to-fill" },
    el(
      "p",
      { class: "to-fill-head" },
      el("a", { class: "row-title", href: `#/bank/tank/${one.tank_id}/nitrogen` }, one.tank_name),
      cause && badge(cause, kind),
      el("span", { class: "tick-box to-fill-tick", "aria-hidden": "true" }),
    ),
    el("p", {}, el("strong", {}, text.least(one.litres)), `, ${text.most(one.litres_most)}`),
    el("p", { class: "row-detail" }, one.reason),
  );
}

/** @param {any} plan @param {any} visit */
function visitPart(plan, visit) {
  const ofDay = (/** @type {any} */ one) => one.date === visit.date;
  const part = section(
    showWeekday(visit.date),
    el(
      "p",
      {},
      visit.date === today() && [badge(text.today), " "],
      !visit.fill_day && [badge(text.offDay, "warn"), " "],
      el("strong", {}, text.visit(visit)),
    ),
    el("ul", { class: "rows" }, plan.items.filter(ofDay).map(tankRow)),
    visit.missing_litres > 0
      ? el("p", { class: "notice notice-warn" }, text.short(visit.missing_litres))
      : visit.supply_litres_after !== null &&
          el("p", { class: "hint" }, text.after(visit.supply_litres_after)),
    plan.if_missed
      .filter(ofDay)
      .map((/** @type {any} */ one) => el("p", {}, el("strong", {}, text.missed), one.words)),
  );
  part.classList.add("visit");
  return part;
}

/** @param {any} supply @param {any[]} deliveries */
function supplyPart(supply, deliveries) {
  if (!supply) return section(text.supply, el("p", {}, text.unknown));
  return section(
    text.supply,
    supply.shortages.length
      ? el(
          "ul",
          { class: "notice notice-warn steps" },
          supply.shortages.map((/** @type {any} */ one) => el("li", {}, text.shortage(one))),
        )
      : el("p", {}, text.enough),
    el("p", { class: "hint" }, text.spill),
    factList([
      [text.now, litres(supply.litres)],
      [text.read, text.readAt(supply)],
      [text.loss, text.lossADay(supply.loss_litres_per_day)],
      [
        text.deliveries,
        deliveries.length
          ? el(
              "ul",
              {},
              deliveries.map((one) => el("li", {}, text.delivery(one))),
            )
          : text.noDelivery,
      ],
    ]),
    supply.days.length > 1 && supplyChart(supply, deliveries),
    disclosure(text.table, supplyTable(supply)),
  );
}

/** How far ahead: links, so that the address says it. @param {number} days */
function spans(days) {
  return el(
    "nav",
    { class: "spans no-print", "aria-label": text.ahead },
    SPANS.map((one) =>
      el(
        "a",
        {
          class: "button",
          href: `#/round?days=${one}`,
          "aria-current": one === days ? "page" : null,
        },
        text.days(one),
      ),
    ),
  );
}

/** @param {any[]} warnings */
function warningsPart(warnings) {
  if (!warnings.length) return null;
  return el(
    "div",
    { class: "caution" },
    el("h2", {}, text.warnings),
    el(
      "ul",
      {},
      warnings.map((one) => el("li", {}, one.message)),
    ),
  );
}

/** @param {import("../parts/page.js").Context} context */
export default async function roundPage({ query }) {
  const asked = Number(query.get("days"));
  const days = SPANS.includes(asked) ? asked : USUAL;
  const [schedule, plan] = await Promise.all([
    get(`/nitrogen/schedule?days=${days}`),
    get("/nitrogen/plan"),
  ]);
  const deliveries = plan.deliveries.filter((/** @type {any} */ one) => one.on >= schedule.from);
  const print = el("button", { type: "button", class: "button" }, text.print);
  print.addEventListener("click", () => window.print());
  return page(
    { title: text.title, lead: text.lead(schedule), back: text.back },
    warningsPart(schedule.warnings),
    schedule.visits.length
      ? schedule.visits.map((/** @type {any} */ one) => visitPart(schedule, one))
      : empty(text.none),
    spans(days),
    supplyPart(schedule.supply, deliveries),
    el("p", { class: "ways" }, print, linkButton({ href: "#/round/plan", text: text.plan })),
    el("div", { class: "no-print" }, calendarPart()),
  );
}
