/** The rooms that tanks stand in, and the way to enter one. */

import { all } from "../net/api.js";
import { iMay } from "../net/session.js";
import { plural, showNumber } from "../logic/numbers.js";
import { el } from "../parts/dom.js";
import { disclosure, empty, linkButton, page, section } from "../parts/page.js";
import { ventilationWords } from "../logic/oxygen.js";

const text = {
  title: "Rooms and oxygen",
  lead: "Nitrogen drives the oxygen out of a room, and nobody feels it. Each room says whether one may go in, and what its alarm must do.",
  back: { href: "#/nitrogen", text: "Nitrogen" },
  rooms: "The rooms",
  none: "No room is entered yet. A manager enters it: how much air is in it, and what changes it.",
  noneYours:
    "No room is entered yet. Enter the first one: how much air is in it, and what changes it.",
  add: { href: "#/rooms/new", text: "Enter a room" },
  air: (/** @type {any} */ room) =>
    `${showNumber(room.volume_m3)} m³ of air. ${ventilationWords(room.ventilation)}${room.ventilation === "none" ? "" : `, ${showNumber(room.air_changes_per_hour)} times an hour`}.`,
  tanks: (/** @type {any[]} */ tanks) =>
    tanks.length
      ? `${plural(tanks.length, "tank")}: ${tanks.map((one) => one.name).join(", ")}`
      : "No tank stands in it",
  retired: "Rooms out of use",
};

/** @param {any} room */
function row(room) {
  return el(
    "li",
    {},
    el(
      "a",
      { class: "row", href: `#/rooms/${room.id}` },
      el(
        "span",
        { class: "row-text" },
        el("span", { class: "row-title" }, room.name),
        el("span", { class: "row-detail" }, text.air(room)),
        el("span", { class: "row-detail" }, text.tanks(room.tanks)),
      ),
    ),
  );
}

export default async function rooms() {
  const found = await all("/rooms");
  const inUse = found.filter((one) => !one.retired_at);
  const retired = found.filter((one) => one.retired_at);
  return page(
    { title: text.title, lead: text.lead, back: text.back },
    section(
      text.rooms,
      inUse.length
        ? el("ul", { class: "rows" }, inUse.map(row))
        : empty(iMay("manage") ? text.noneYours : text.none),
    ),
    iMay("manage") && el("p", { class: "ways" }, linkButton(text.add)),
    retired.length > 0 && disclosure(text.retired, el("ul", { class: "rows" }, retired.map(row))),
  );
}
