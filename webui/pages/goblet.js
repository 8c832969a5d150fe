/** What is in one goblet, and what may be done with it. */

import { loadGoblet, loadMarks, loadTanks, whereIs } from "../net/bank.js";
import { link } from "../logic/routes.js";
import { plural } from "../logic/numbers.js";
import { iMay } from "../net/session.js";
import { codeText, el } from "../parts/dom.js";
import { gauge } from "../parts/bank_map.js";
import { markBadge } from "../parts/mark.js";
import { ownersLine } from "../parts/owners.js";
import { empty, factList, linkButton, page, section, straws } from "../parts/page.js";

const text = {
  title: (/** @type {any} */ goblet) => `Goblet ${goblet.address}`,
  bank: "The bank",
  canister: (/** @type {any} */ tank, /** @type {any} */ canister) =>
    `${tank.name}, canister ${canister.number}`,
  inside: "In this goblet",
  empty: (/** @type {any} */ goblet) =>
    `Empty, with room for ${plural(goblet.free_straws, "straw")}. A freeze or a move fills it.`,
  batch: "Batch",
  free: "Free",
  code: "Code",
  move: "Move straws",
  discard: "Discard straws",
  relocate: "Move this goblet",
  dispatch: "Dispatch straws",
  owner: "Change the owner",
  plate: "Plate of this goblet",
};

/** @param {any} item @param {string} gobletId @param {Map<string, any>} marks */
function contentCard(item, gobletId, marks) {
  return el(
    "div",
    { class: "card" },
    el(
      "div",
      { class: "row-plain" },
      markBadge(marks.get(item.stallion_id), { colour: item.straw_colour }),
      el(
        "div",
        { class: "row-text" },
        el(
          "a",
          { class: "row-title", href: `#/stallions/${item.stallion_id}` },
          item.stallion_name,
        ),
        el(
          "span",
          { class: "row-detail" },
          text.batch,
          " ",
          el("a", { href: `#/batches/${item.batch_id}` }, codeText(item.batch_code)),
          item.straw_colour && ` · ${item.straw_colour} straws`,
        ),
        ownersLine(item) && el("span", { class: "row-detail" }, ownersLine(item)),
      ),
      el("strong", {}, straws(item.straws)),
    ),
    iMay("book") &&
      el(
        "p",
        { class: "ways" },
        linkButton({
          href: link(`/bank/goblet/${gobletId}/move`, { batch: item.batch_id }),
          text: text.move,
        }),
        linkButton({
          href: link(`/bank/goblet/${gobletId}/discard`, { batch: item.batch_id }),
          text: text.discard,
        }),
        linkButton({
          href: link("/dispatch/new", { goblet: gobletId, batch: item.batch_id }),
          text: text.dispatch,
        }),
        iMay("manage") &&
          linkButton({
            href: link(`/bank/goblet/${gobletId}/owner`, { batch: item.batch_id }),
            text: text.owner,
          }),
      ),
  );
}

/** @param {import("../parts/page.js").Context} context */
export default async function gobletPage({ params }) {
  const [goblet, tanks, marks] = await Promise.all([
    loadGoblet(params.id),
    loadTanks(),
    loadMarks(),
  ]);
  const at = whereIs(tanks, goblet.id);
  const back = at
    ? { href: `#/bank/canister/${at.canister.id}`, text: text.canister(at.tank, at.canister) }
    : { href: "#/bank", text: text.bank };
  return page(
    { title: text.title(goblet), back },
    gauge(goblet.capacity_straws - goblet.free_straws, goblet.capacity_straws),
    section(
      text.inside,
      goblet.contents.length
        ? goblet.contents.map((/** @type {any} */ item) => contentCard(item, goblet.id, marks))
        : empty(text.empty(goblet)),
    ),
    at &&
      el(
        "p",
        { class: "ways" },
        iMay("book") &&
          linkButton({ href: `#/bank/goblet/${goblet.id}/relocate`, text: text.relocate }),
        linkButton({ href: `#/bank/goblet/${goblet.id}/plates`, text: text.plate }),
      ),
    factList([
      [text.free, straws(goblet.free_straws)],
      [text.code, codeText(goblet.code)],
    ]),
  );
}
