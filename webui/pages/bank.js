/** The bank at a glance: one card for each tank, with how full it is. */

import { get, search } from "../net/api.js";
import { loadMarks, loadTanks } from "../net/bank.js";
import { iMay } from "../net/session.js";
import { el } from "../parts/dom.js";
import { gauge, whoIsIn } from "../parts/bank_map.js";
import { markBadge } from "../parts/mark.js";
import { badge, empty, linkButton, page } from "../parts/page.js";
import { plural } from "../logic/numbers.js";

const text = {
  title: "The bank",
  lead: "What stands where. Open a tank, then a canister, then a goblet.",
  none: "There is no tank yet. A manager sets up the first one: its canisters, goblets and dipstick table.",
  noneYours:
    "There is no tank yet. Set up the first one: its canisters, goblets and dipstick table.",
  setUp: { href: "#/bank/new", text: "Set up a tank" },
  sheet: { href: "#/import", text: "Spreadsheet in and out" },
  rooms: { href: "#/rooms", text: "Rooms and oxygen" },
  find: { href: "#/find", text: "Where is …?" },
  bringIn: { href: "#/receipts/new", text: "Bring in straws" },
  dispatch: { href: "#/dispatch/new", text: "Dispatch straws" },
  quarantine: "quarantine",
  retired: "Retired tanks",
  canisters: (/** @type {number} */ count) => plural(count, "canister"),
};

/** @param {any} tank */
export function roomOf(tank) {
  return tank.canisters
    .flatMap((/** @type {any} */ canister) => canister.goblets)
    .reduce(
      (/** @type {number} */ sum, /** @type {any} */ goblet) => sum + goblet.capacity_straws,
      0,
    );
}

/** @param {any} tank @param {any} stock @param {Map<string, any>} marks */
function tankCard(tank, stock, marks) {
  const badges = whoIsIn(stock.items).map((one) =>
    markBadge(marks.get(one.stallion_id), { small: true, named: true, colour: one.straw_colour }),
  );
  return el(
    "a",
    { class: "tank-card", href: `#/bank/tank/${tank.id}` },
    el(
      "span",
      { class: "goblet-head" },
      el("span", { class: "tank-name" }, tank.name),
      tank.quarantine && badge(text.quarantine, "warn"),
    ),
    el("span", {}, text.canisters(tank.canisters.length)),
    gauge(stock.straws, roomOf(tank)),
    badges.length > 0 && el("span", { class: "goblet-marks" }, badges),
  );
}

export default async function bank() {
  const [tanks, marks] = await Promise.all([loadTanks(), loadMarks()]);
  const stocks = await Promise.all(
    tanks.map((tank) => get(`/stock${search({ tank_id: tank.id, limit: 1000 })}`)),
  );
  const cards = tanks.map((tank, i) => ({ tank, card: tankCard(tank, stocks[i], marks) }));
  const inUse = cards.filter(({ tank }) => !tank.retired_at);
  const retired = cards.filter(({ tank }) => tank.retired_at);
  return page(
    { title: text.title, lead: text.lead, kind: "page-wide" },
    el(
      "p",
      { class: "ways" },
      linkButton(text.find),
      linkButton(text.sheet),
      linkButton(text.rooms),
      iMay("book") && [linkButton(text.bringIn), linkButton(text.dispatch)],
      iMay("manage") && linkButton(text.setUp),
    ),
    inUse.length
      ? el(
          "div",
          { class: "tanks" },
          inUse.map(({ card }) => card),
        )
      : empty(iMay("manage") ? text.noneYours : text.none),
    retired.length > 0 &&
      el(
        "details",
        { class: "more" },
        el("summary", {}, text.retired),
        el(
          "div",
          { class: "tanks" },
          retired.map(({ card }) => card),
        ),
      ),
  );
}
