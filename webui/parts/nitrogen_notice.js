/** Which tanks cannot wait, in a line each: on the first page, for everybody. */

import { needsSomebody } from "../logic/nitrogen.js";
import { el } from "./dom.js";

const text = {
  failing: (/** @type {string} */ name) => `${name} is failing: see now what to do`,
  below: (/** @type {string} */ name) => `${name} is below its minimum level: top it up now`,
  rising: (/** @type {string} */ name) => `${name} loses more than before: measure it again`,
  overdue: (/** @type {string} */ name) => `${name}: a reading is overdue`,
  all: (/** @type {number} */ more) => `and ${more} more: nitrogen in all tanks`,
};

const MOST = 5;

/** Null when no tank needs anybody. @param {any[]} tanks  what `GET /nitrogen` lists, worst first */
export function nitrogenNotice(tanks) {
  const found = tanks.flatMap((tank) => {
    const need = needsSomebody(tank);
    return need ? [{ tank, need }] : [];
  });
  if (!found.length) return null;
  const urgent = found.some(({ need }) => need === "failing" || need === "below");
  const left = found.length - MOST;
  return el(
    "div",
    { class: `notice notice-${urgent ? "bad" : "warn"}`, role: "status" },
    found.slice(0, MOST).map(({ tank, need }) => {
      const href = `#/bank/tank/${tank.tank_id}/nitrogen`;
      return el("p", {}, el("a", { href }, text[need](tank.tank_name)));
    }),
    left > 0 && el("p", {}, el("a", { href: "#/nitrogen" }, text.all(left))),
  );
}
