/** One room: may I go in, what must its oxygen alarm do, and by which reckoning. */

import { get } from "../net/api.js";
import { iMay } from "../net/session.js";
import { showPercent, showSpan, ventilationWords, verdict } from "../logic/oxygen.js";
import { showNumber } from "../logic/numbers.js";
import { el } from "../parts/dom.js";
import { changesPart } from "../parts/changes.js";
import { disclosure, factList, linkButton, page, section } from "../parts/page.js";
import { retireForm, tanksHere } from "../parts/room_forms.js";
import { oxygenCharts } from "../charts/oxygen.js";

const text = {
  back: { href: "#/rooms", text: "Rooms and oxygen" },
  retired: "This room is no longer in use.",
  enter: "May I go in?",
  answers: {
    nothing: "Nothing can be said: no tank stands here by the book.",
    "air-first": "Not before it is aired and the oxygen is measured.",
    no: "No. Do not go in.",
    "with-alarm": "Only while the fan runs and the oxygen alarm shows 19.5 % or more.",
  },
  alarm: "What the oxygen alarm must do",
  todo: "Always",
  figures: "What oxygen is left",
  fresh: (/** @type {number} */ percent) => `Fresh air has ${showNumber(percent)} %.`,
  steady: "Every day, by evaporation",
  falls: "only falls",
  until: (/** @type {number} */ hours) => `19.5 % after ${showSpan(hours * 60)} without fresh air`,
  gas: (/** @type {number} */ m3) => `${showNumber(m3)} m³ of gas an hour`,
  filling: "Filling the largest tank",
  spill: "The largest tank spills",
  full: "All tanks are lost",
  release: (/** @type {any} */ one) =>
    `${showNumber(one.litres, { decimals: 1 })} litres become ${showNumber(one.gas_m3, { decimals: 1 })} m³`,
  recovery: (/** @type {number|null} */ minutes) => {
    if (minutes === null) return "never back to 19.5 % by itself";
    return minutes > 0 ? `back to 19.5 % in ${showSpan(minutes)}` : "stays above 19.5 %";
  },
  course: "How it goes on",
  courseHint: "The left axis does not begin at 0. Who says what of the levels stands below.",
  table: "The same as a table",
  levels: "Which level means what, and who says so",
  how: "How it is reckoned, and what is taken for granted",
  formulas: "Formulas",
  granted: "Taken for granted",
  print: "Print this page",
  edit: (/** @type {any} */ room) => ({
    href: `#/rooms/${room.id}/edit`,
    text: "Change the room’s record",
  }),
  air: "Air in the room",
  way: "What changes the air",
  often: "Air changes",
};

const KINDS = { nothing: "", "air-first": "notice-warn", no: "problem", "with-alarm": "" };
const LEAST = 19.5;

/** How the service names figures and what is taken for granted, in words. @type {Record<string, string>} */
const NAMES = {
  evaporation_m3_per_hour: "Gas by evaporation, R (m³ an hour)",
  steady_percent: "Oxygen in the long run, Cs",
  hours_to_19_5_percent: "Hours to 19.5 %",
  filling_percent: "Oxygen after a filling",
  spill_percent: "Oxygen after a spill",
  full_loss_percent: "Oxygen after the loss of all tanks",
  recovery_minutes: "Time until it is 19.5 % again",
  expansion_ratio: "Litres of gas of a litre of nitrogen (expansion_ratio)",
  oxygen_percent: "Oxygen in fresh air, c0 (%)",
  ageing_factor: "Allowance for aged insulation (ageing_factor)",
  volume_m3: "Air in the room, V (m³)",
  ventilation: "Which fan",
  mixing: "Mixing",
  loss: "Loss of the tanks",
};

/** @param {any} left */
function answer(left) {
  const found = verdict(left, LEAST);
  return section(
    text.enter,
    el(
      "div",
      { class: found === "no" ? "problem" : `notice ${KINDS[found]}` },
      el("p", { class: "tank-state-word" }, text.answers[found]),
      left.may_enter_words.map((/** @type {string} */ one) => el("p", {}, one)),
    ),
    el("div", { class: "caution" }, el("p", {}, left.caution)),
  );
}

/** @param {string} title @param {string[]} words */
function told(title, words) {
  return section(
    title,
    el(
      "ul",
      { class: "steps" },
      words.map((one) => el("li", {}, one)),
    ),
  );
}

/** @param {string} name @param {string} value @param {string[]} details */
function figure(name, value, details) {
  return el(
    "div",
    { class: "figure" },
    el("dt", {}, name),
    el("dd", {}, value),
    details.map((one) => el("dd", { class: "figure-detail" }, one)),
  );
}

/** @param {string} name @param {any} release */
function releaseFigure(name, release) {
  return figure(name, showPercent(release.percent), [
    text.release(release),
    text.recovery(release.recovery_minutes),
  ]);
}

/** @param {any} left @param {any} room */
function figures(left, room) {
  const steady = left.steady_percent === null ? text.falls : showPercent(left.steady_percent);
  const hours = left.hours_to_19_5_percent;
  return section(
    text.figures,
    el(
      "dl",
      { class: "figures" },
      figure(text.steady, steady, [
        text.gas(left.evaporation_m3_per_hour),
        ...(hours === null ? [] : [text.until(hours)]),
      ]),
      releaseFigure(text.filling, left.filling),
      releaseFigure(text.spill, left.spill),
      releaseFigure(text.full, left.full_loss),
    ),
    el("p", { class: "hint" }, text.fresh(room.oxygen_percent)),
  );
}

/** @param {any} left */
function course(left) {
  return section(
    text.course,
    oxygenCharts(left).flatMap(({ title, chart, table }) => [
      el("h3", {}, title),
      ...chart,
      disclosure(`${text.table}: ${title.toLowerCase()}`, table),
    ]),
    el("p", { class: "hint" }, text.courseHint),
  );
}

/** @param {any} left */
function levels(left) {
  const percents = [...new Set(left.thresholds.map((/** @type {any} */ one) => one.percent))];
  return section(
    text.levels,
    percents.map((percent) => [
      el("h3", {}, `${showNumber(percent)} %`),
      el(
        "ul",
        {},
        left.thresholds
          .filter((/** @type {any} */ one) => one.percent === percent)
          .map((/** @type {any} */ one) =>
            el("li", {}, one.meaning, el("span", { class: "said-by" }, one.source)),
          ),
      ),
    ]),
  );
}

/** @param {any} left */
function reckoning(left) {
  const lines = (/** @type {any[]} */ items, /** @type {(one: any) => [string, string]} */ pick) =>
    el(
      "dl",
      { class: "reckoning" },
      items.map((one) => {
        const [name, said] = pick(one);
        return el(
          "div",
          {},
          el("dt", {}, NAMES[name] ?? name),
          el("dd", {}, said),
          el("dd", { class: "said-by" }, one.source),
        );
      }),
    );
  return disclosure(
    text.how,
    el("h3", {}, text.formulas),
    lines(left.formulas, (one) => [one.figure, one.formula]),
    el("h3", {}, text.granted),
    lines(left.assumptions, (one) => [one.name, grantedWords(one)]),
  );
}

/** @param {any} one */
function grantedWords({ name, value }) {
  if (name === "ventilation") return ventilationWords(value);
  return typeof value === "number" ? showNumber(value) : value;
}

function printButton() {
  const button = el("button", { type: "button", class: "button" }, text.print);
  button.addEventListener("click", () => window.print());
  return button;
}

/** @param {import("../parts/page.js").Context} context */
export default async function roomPage({ params }) {
  const path = `/rooms/${params.id}`;
  const [room, left] = await Promise.all([get(path), get(`${path}/oxygen`)]);
  const mine = iMay("manage") && !room.retired_at;
  return page(
    { title: room.name, back: text.back },
    room.retired_at && el("p", { class: "notice notice-warn" }, text.retired),
    room.warnings.map((/** @type {any} */ one) =>
      el("p", { class: "notice notice-warn" }, one.message),
    ),
    answer(left),
    told(text.alarm, left.alarm_words),
    told(text.todo, left.what_to_do),
    left.tanks.length > 0 && figures(left, room),
    left.tanks.length > 0 && course(left),
    levels(left),
    reckoning(left),
    await tanksHere(room, mine),
    factList([
      [text.air, `${showNumber(room.volume_m3)} m³`],
      [text.way, ventilationWords(room.ventilation)],
      [
        text.often,
        room.ventilation !== "none" && `${showNumber(room.air_changes_per_hour)} times an hour`,
      ],
    ]),
    el("p", { class: "ways" }, printButton(), mine && linkButton(text.edit(room))),
    mine && retireForm(path),
    changesPart(path),
  );
}
