/** The codes of a batch as a list for paper: to mark straws by, and to tick off while filling. */

import { get } from "../net/api.js";
import { iMay, stationName } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { link } from "../logic/routes.js";
import { showDay } from "../logic/times.js";
import { codeText, el } from "../parts/dom.js";
import { factList, linkButton, page } from "../parts/page.js";

const text = {
  title: (/** @type {any} */ b) => `Codes of ${b.stallion_name}`,
  back: "Batch",
  made: (/** @type {number} */ count) =>
    `${plural(count, "code")} made. Mark the straws, then fill them.`,
  labels: "Print the labels",
  print: "Print this list",
  freeze: "Log its freeze now",
  facts: {
    station: "Station",
    stallion: "Stallion",
    ueln: "UELN",
    batch: "Batch",
    day: "Collection day",
    colour: "Straw colour",
    count: "Straws",
  },
};

/** @param {import("../parts/page.js").Context} context */
export default async function batchCodes({ params, query }) {
  const b = await get(`/batches/${params.id}`);
  const stallion = await get(`/stallions/${b.stallion_id}`);
  const print = el("button", { type: "button", class: "button" }, text.print);
  print.addEventListener("click", () => window.print());
  const coded = b.straws.filter((/** @type {any} */ one) => one.code && one.state !== "void");
  const f = text.facts;
  return page(
    { title: text.title(b), back: { href: `#/batches/${b.id}`, text: text.back } },
    query.get("fresh") === "1" &&
      el("p", { class: "notice notice-good no-print" }, text.made(coded.length)),
    factList([
      [f.station, stationName()],
      [f.stallion, b.stallion_name],
      [f.ueln, stallion.ueln],
      [f.batch, codeText(b.code)],
      [f.day, b.collected_on && showDay(b.collected_on)],
      [f.colour, b.straw_colour],
      [f.count, coded.length],
    ]),
    el(
      "p",
      { class: "ways" },
      coded.length > 0 &&
        linkButton({ href: `#/batches/${b.id}/labels`, text: text.labels, kind: "primary" }),
      print,
      b.state === "prepared" &&
        iMay("book") &&
        linkButton({ href: link("/freeze/new", { batch: b.id }), text: text.freeze }),
    ),
    el(
      "ol",
      { class: "code-grid code-tick" },
      coded.map((/** @type {any} */ one, /** @type {number} */ i) =>
        el(
          "li",
          {},
          el("span", { class: "tick-box", "aria-hidden": "true" }),
          el("small", { class: "number" }, `${i + 1}`),
          codeText(one.code),
        ),
      ),
    ),
  );
}
