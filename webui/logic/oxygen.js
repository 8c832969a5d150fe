/** How oxygen and spans of time are told: never better than they are. Pure. */

import { plural, showNumber } from "./numbers.js";

/** A percentage, rounded down: below a threshold it never reads as being it. @param {number|null} value */
export function showPercent(value) {
  return value === null ? "–" : `${showNumber(value, { decimals: 1, down: true })} %`;
}

/** @param {number} minutes */
export function showSpan(minutes) {
  if (minutes < 1) return "less than a minute";
  if (minutes < 120) return `about ${plural(Math.round(minutes), "minute")}`;
  const hours = minutes / 60;
  return hours < 72
    ? `about ${plural(Math.round(hours), "hour")}`
    : `about ${plural(Math.round(hours / 24), "day")}`;
}

/** @type {Record<string, string>} */
const WAYS = {
  none: "No fan",
  exhaust: "A fan draws air out",
  supply: "A fan blows fresh air in",
};

/** What changes the air of a room. @param {string} ventilation */
export function ventilationWords(ventilation) {
  return WAYS[ventilation] ?? ventilation;
}

/** @typedef {{hours: number, percent: number}} Point */

/**
 * The unit in which a span of hours is drawn.
 * @param {number} hours
 * @returns {{unit: "minutes"|"hours"|"days", per: number}} so many of it in an hour
 */
export function timeUnit(hours) {
  if (hours <= 3) return { unit: "minutes", per: 60 };
  return hours <= 96 ? { unit: "hours", per: 1 } : { unit: "days", per: 1 / 24 };
}

/** A few of many points, the first and the last among them. @param {Point[]} points @param {number} count */
export function some(points, count) {
  if (points.length <= count) return points;
  return Array.from(
    { length: count },
    (_, i) => points[Math.round((i * (points.length - 1)) / (count - 1))],
  );
}

/**
 * Round percentages for a picture, every two, from below all points (and below 14) to above them.
 * @param {number[]} percents
 */
export function percentAxis(percents) {
  const low = Math.max(0, 2 * Math.floor((Math.min(14, ...percents) - 0.5) / 2));
  const high = 2 * Math.ceil(Math.max(20.9, ...percents) / 2);
  return Array.from({ length: (high - low) / 2 + 1 }, (_, i) => low + 2 * i);
}

/**
 * What a room's estimate comes to: the one word that is read first.
 * @param {{tanks: unknown[], steady_percent: number|null}} left @param {number} least
 * @returns {"nothing"|"air-first"|"no"|"with-alarm"}
 */
export function verdict({ tanks, steady_percent: steady }, least) {
  if (!tanks.length) return "nothing";
  if (steady === null) return "air-first";
  return steady < least ? "no" : "with-alarm";
}
