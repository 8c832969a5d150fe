/** A canister as seen from above, and the same as a list. */

import { byGoblet, loadMarks, loadStock, loadTanks, whereIs } from "../net/bank.js";
import { iMay } from "../net/session.js";
import { el } from "../parts/dom.js";
import { canisterFromAbove, gobletCard, markKey } from "../parts/bank_map.js";
import { empty, linkButton, page, section } from "../parts/page.js";

const text = {
  title: (/** @type {any} */ tank, /** @type {any} */ canister) =>
    `${tank.name}, canister ${canister.number}`,
  lead: "Drawn from above, clockwise in the order of the addresses. In your canister the goblets may stand turned.",
  goblets: "Goblets",
  none: "This canister has no goblets.",
  noSuch: "There is no such canister",
  relocate: "Move this canister",
  plates: "Plates of canister and goblets",
  bank: { href: "#/bank", text: "The bank" },
};

/** @param {import("../parts/page.js").Context} context */
export default async function canisterPage({ params }) {
  const [tanks, marks] = await Promise.all([loadTanks(), loadMarks()]);
  const found = whereIs(tanks, params.id);
  if (!found) return page({ title: text.noSuch, back: text.bank });
  const { tank, canister } = found;
  const stock = await loadStock({ tank_id: tank.id });
  const contents = byGoblet(stock);
  const inside = canister.goblets.flatMap((/** @type {any} */ one) => contents.get(one.id) ?? []);
  return page(
    {
      title: text.title(tank, canister),
      lead: text.lead,
      kind: "page-wide",
      back: { href: `#/bank/tank/${tank.id}`, text: tank.name },
    },
    canisterFromAbove(canister, contents, marks),
    inside.length > 0 && markKey(inside, marks),
    section(
      text.goblets,
      canister.goblets.length
        ? el(
            "ul",
            { class: "goblets" },
            canister.goblets.map((/** @type {any} */ one) =>
              el("li", {}, gobletCard(one, contents.get(one.id) ?? [], marks)),
            ),
          )
        : empty(text.none),
    ),
    el(
      "p",
      { class: "ways" },
      iMay("book") &&
        linkButton({ href: `#/bank/canister/${canister.id}/relocate`, text: text.relocate }),
      linkButton({ href: `#/bank/canister/${canister.id}/plates`, text: text.plates }),
    ),
  );
}
