/** Nitrogen: how all tanks stand, worst first, to be understood in three seconds. */

import { get } from "../net/api.js";
import { iMay, moment } from "../net/session.js";
import { showNumber } from "../logic/numbers.js";
import { STATES } from "../logic/nitrogen.js";
import { showDay } from "../logic/times.js";
import { el } from "../parts/dom.js";
import { empty, linkButton, page } from "../parts/page.js";

const text = {
  title: "Nitrogen",
  none: "There are no tanks yet.",
  bank: { href: "#/bank", text: "The bank" },
  litres: (/** @type {any} */ one) =>
    one.litres === null
      ? "No level was read yet"
      : `${showNumber(one.litres, { decimals: 1 })} litres, ${showNumber(one.percent, { decimals: 0 })} % full`,
  low: "Below its minimum level: top it up now",
  minimum: (/** @type {any} */ one) =>
    one.reaches_minimum_earliest_on === one.reaches_minimum_on
      ? `At its minimum on ${showDay(one.reaches_minimum_on)}`
      : `At its minimum likely on ${showDay(one.reaches_minimum_on)}, as early as ${showDay(one.reaches_minimum_earliest_on)}`,
  read: (/** @type {string} */ when) => `Last read ${when}`,
  overdue: "A reading is overdue",
  signs: (/** @type {string[]} */ signs) => `Seen at it: ${signs.join(", ")}`,
  dip: "Enter a level",
  more: "All about it",
  round: "The next rounds",
  rooms: "Rooms and oxygen",
};

/** @param {any} one */
function card(one) {
  const state = STATES[/** @type {import("../logic/nitrogen.js").State} */ (one.state)];
  const kind = one.below_minimum && state.kind !== "bad" ? "warn" : state.kind;
  const percent = Math.max(0, Math.min(100, one.percent ?? 0));
  const bar = el("span");
  bar.style.width = `${percent}%`;
  return el(
    "section",
    { class: `tank-state tank-state-${kind}` },
    el("h2", {}, one.tank_name),
    el(
      "p",
      { class: "tank-state-word" },
      el("span", { "aria-hidden": "true" }, `${state.sign} `),
      state.word,
    ),
    el("div", { class: "tank-bar", "aria-hidden": "true" }, bar),
    el("p", {}, el("strong", {}, text.litres(one))),
    one.below_minimum && el("p", {}, el("strong", {}, text.low)),
    !one.below_minimum && one.reaches_minimum_on && el("p", {}, text.minimum(one)),
    one.signs.length > 0 && el("p", {}, text.signs(one.signs)),
    el("p", {}, one.why),
    one.last_read_at && el("p", {}, text.read(moment(one.last_read_at))),
    one.reading_overdue && el("p", {}, el("strong", {}, text.overdue)),
    el(
      "p",
      { class: "ways" },
      iMay("book") &&
        linkButton({ href: `#/bank/tank/${one.tank_id}/dip`, text: text.dip }),
      linkButton({ href: `#/bank/tank/${one.tank_id}/nitrogen`, text: text.more }),
    ),
  );
}

export default async function nitrogenPage() {
  const { items } = await get("/nitrogen");
  return page(
    { title: text.title, back: text.bank, kind: "page-wide" },
    items.length ? el("div", { class: "tank-cards" }, items.map(card)) : empty(text.none, text.bank),
    el(
      "p",
      { class: "ways" },
      linkButton({ href: "#/round", text: text.round }),
      linkButton({ href: "#/rooms", text: text.rooms }),
    ),
  );
}
