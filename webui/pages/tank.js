/** One tank: its canisters, how full each is and whose straws stand in it. */

import { get } from "../net/api.js";
import { byGoblet, loadMarks, loadStock } from "../net/bank.js";
import { iMay } from "../net/session.js";
import { codeText, el } from "../parts/dom.js";
import { gauge, markKey, sumStraws, whoIsIn } from "../parts/bank_map.js";
import { changesPart } from "../parts/changes.js";
import { markBadge } from "../parts/mark.js";
import { badge, disclosure, empty, factList, linkButton, page, section } from "../parts/page.js";
import { showNumber } from "../logic/numbers.js";

const text = {
  back: { href: "#/bank", text: "The bank" },
  canisters: "Canisters",
  canister: (/** @type {number} */ number) => `Canister ${number}`,
  none: "This tank has no canisters.",
  who: "Whose straws are here",
  empty: "The tank is empty.",
  edit: "Change this tank",
  nitrogen: "Its nitrogen",
  plates: "Plates of the tank and all inside",
  about: "About this tank",
  room: "May I go into its room?",
  table: "Dipstick table",
  facts: {
    code: "Code",
    capacity: "Holds",
    loss: "Rated loss",
    minimum: "Minimum level",
    quarantine: "Quarantine",
  },
  quarantine: "quarantine",
};

/** @param {any} tank @param {any} canister @param {Map<string, any[]>} contents @param {Map<string, any>} marks */
function canisterCard(tank, canister, contents, marks) {
  const inside = canister.goblets.flatMap(
    (/** @type {any} */ goblet) => contents.get(goblet.id) ?? [],
  );
  const room = canister.goblets.reduce(
    (/** @type {number} */ sum, /** @type {any} */ one) => sum + one.capacity_straws,
    0,
  );
  return el(
    "a",
    { class: "goblet-card", href: `#/bank/canister/${canister.id}` },
    el(
      "span",
      { class: "goblet-head" },
      el("strong", {}, text.canister(canister.number)),
      el(
        "span",
        { class: "goblet-marks" },
        whoIsIn(inside)
          .slice(0, 5)
          .map((one) =>
            markBadge(marks.get(one.stallion_id), {
              small: true,
              named: true,
              colour: one.straw_colour,
            }),
          ),
      ),
    ),
    gauge(sumStraws(inside), room),
  );
}

/** @param {any} tank */
function about(tank) {
  return disclosure(
    text.about,
    factList([
      [text.facts.code, tank.code && codeText(tank.code)],
      [text.facts.capacity, `${showNumber(tank.capacity_litres)} litres of nitrogen`],
      [
        text.facts.loss,
        `${showNumber(tank.rated_loss_litres_per_day, { decimals: 3 })} litres a day`,
      ],
      [text.facts.minimum, `${showNumber(tank.minimum_level_cm)} cm`],
    ]),
    el(
      "p",
      {},
      text.table,
      ": ",
      (tank.calibration ?? []).map(
        (/** @type {any} */ point, /** @type {number} */ i) =>
          `${i ? " · " : ""}${showNumber(point.level_cm)} cm = ${showNumber(point.litres)} L`,
      ),
    ),
  );
}

/** @param {import("../parts/page.js").Context} context */
export default async function tankPage({ params }) {
  const [tank, stock, marks] = await Promise.all([
    get(`/tanks/${params.id}`),
    loadStock({ tank_id: params.id }),
    loadMarks(),
  ]);
  const contents = byGoblet(stock);
  return page(
    { title: tank.name, back: text.back, kind: "page-wide" },
    tank.quarantine && el("p", {}, badge(text.quarantine, "warn")),
    section(
      text.canisters,
      tank.canisters.length
        ? el(
            "ul",
            { class: "goblets" },
            tank.canisters.map((/** @type {any} */ one) =>
              el("li", {}, canisterCard(tank, one, contents, marks)),
            ),
          )
        : empty(text.none),
    ),
    section(text.who, stock.length ? markKey(stock, marks) : empty(text.empty)),
    about(tank),
    changesPart(`/tanks/${tank.id}`),
    el(
      "p",
      { class: "ways" },
      linkButton({ href: `#/bank/tank/${tank.id}/nitrogen`, text: text.nitrogen }),
      linkButton({ href: `#/bank/tank/${tank.id}/plates`, text: text.plates }),
      tank.room_id && linkButton({ href: `#/rooms/${tank.room_id}`, text: text.room }),
      iMay("manage") && linkButton({ href: `#/bank/tank/${tank.id}/edit`, text: text.edit }),
    ),
  );
}
