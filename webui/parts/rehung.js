/** What moving a goblet or canister comes to: new addresses, and the canister as it hangs then. */

import { sendAct } from "../net/acts.js";
import { byGoblet, loadStock, loadTanks, whereIs } from "../net/bank.js";
import { plural } from "../logic/numbers.js";
import { canisterFromAbove, sumStraws } from "./bank_map.js";
import { el } from "./dom.js";
import { busy } from "./form.js";
import { go } from "./go.js";
import { toast } from "./live.js";
import { linkButton, page, section } from "./page.js";
import { problemBox } from "./problem.js";

const text = {
  plates: "Addresses",
  noGoblets: "No goblet hangs in it.",
  becomes: "becomes",
  straws: (/** @type {number} */ count) => plural(count, "straw"),
  afterwards: (/** @type {any} */ tank, /** @type {number} */ number) =>
    `${tank.name}, canister ${number}, as it will be`,
  now: (/** @type {any} */ at) => `${at.tank.name}, canister ${at.canister.number}, as it is now`,
  moved: "Moved",
  movedLead: (/** @type {number} */ straws) =>
    straws
      ? `${plural(straws, "straw")} hang in the new place, in one entry of the book.`
      : "It hangs in the new place, in one entry of the book.",
  undo: "Undo: it hangs where it hung before",
  undoReason: "Undone on the page, right after it was booked.",
  undone: "Taken back. The map is as it was.",
  canister: "See the canister",
  book: { href: "#/book", text: "See the book" },
  undoTitle: "Wrong?",
  undoHint: "A counter-entry takes it back, as long as nothing was moved there since.",
};

/** Old and new address of each goblet, with what stands in it. @param {any} coming @param {Map<string, any[]>} contents */
export function addressList(coming, contents) {
  if (!coming.goblets.length) return el("p", { class: "hint" }, text.noGoblets);
  return el(
    "ul",
    { class: "rehung", "aria-label": text.plates },
    coming.goblets.map((/** @type {any} */ one) =>
      el(
        "li",
        {},
        el("span", { class: "address" }, one.from_address),
        el("span", { "aria-label": text.becomes }, "→"),
        el("strong", { class: "address" }, one.address),
        el("span", { class: "row-detail" }, text.straws(sumStraws(contents.get(one.id) ?? []))),
      ),
    ),
  );
}

/** @param {any} coming */
function warningList(coming) {
  return coming.warnings.map((/** @type {any} */ one) =>
    el("p", { class: "notice notice-warn" }, one.message),
  );
}

/** Goblets in the order of the bank. @param {any[]} goblets */
function asTheyHang(goblets) {
  return [...goblets].sort((a, b) =>
    a.address.localeCompare(b.address, undefined, { numeric: true }),
  );
}

/**
 * The canister as it will be: what stays in it, and what comes.
 * @param {any} coming @param {{tank: any, canister: any, number: number}} target
 * @param {any[]} tanks @param {{contents: Map<string, any[]>, marks: Map<string, any>}} inside
 */
export function preview(coming, target, tanks, inside) {
  const moving = new Map(coming.goblets.map((/** @type {any} */ one) => [one.id, one]));
  const known = tanks.flatMap((tank) =>
    tank.canisters.flatMap((/** @type {any} */ one) => one.goblets),
  );
  const goblets = [
    ...target.canister.goblets.filter((/** @type {any} */ one) => !moving.has(one.id)),
    ...known
      .filter((one) => moving.has(one.id))
      .map((one) => ({
        ...one,
        address: moving.get(one.id).address,
        tier: moving.get(one.id).tier,
      })),
  ];
  return [
    addressList(coming, inside.contents),
    warningList(coming),
    el("h3", {}, text.afterwards(target.tank, target.number)),
    canisterFromAbove({ goblets: asTheyHang(goblets) }, inside.contents, inside.marks),
  ];
}

/** @param {any} done @param {string} home */
function undoButton(done, home) {
  const button = el("button", { type: "button", class: "button button-danger" }, text.undo);
  const said = el("div", { "aria-live": "assertive" });
  const key = `correct:${done.id}`;
  button.addEventListener("click", async () => {
    busy(button, text.undo, true);
    try {
      await sendAct(key, `/ledger/${done.id}/correct`, { reason: text.undoReason });
      toast(text.undone);
      go(home);
    } catch (problem) {
      busy(button, text.undo, false);
      said.replaceChildren(problemBox(problem, "book"));
    }
  });
  return el("div", { class: "form-part" }, button, said);
}

/**
 * The page after the move: the map read anew, and the way back.
 * @param {any} done @param {{id: string, home: string, canisterId: string, marks: Map<string, any>}} what
 */
export async function movedPage(done, { id, home, canisterId, marks }) {
  const [tanks, stock] = await Promise.all([loadTanks(), loadStock({})]);
  const contents = byGoblet(stock);
  const at = whereIs(tanks, id);
  const there = whereIs(tanks, canisterId) ?? at;
  return page(
    { title: text.moved, lead: text.movedLead(done.straws), kind: "page-wide" },
    addressList(done, contents),
    warningList(done),
    there &&
      section(
        text.now(there),
        canisterFromAbove(there.canister, contents, marks),
        el(
          "p",
          { class: "ways" },
          linkButton({ href: `#/bank/canister/${there.canister.id}`, text: text.canister }),
          linkButton(text.book),
        ),
      ),
    section(text.undoTitle, el("p", { class: "hint" }, text.undoHint), undoButton(done, home)),
  );
}
