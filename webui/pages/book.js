/** The book: every entry as it was written, whether the whole is sound, and taking an entry back. */

import { get, search } from "../net/api.js";
import { plural } from "../logic/numbers.js";
import { el, show } from "../parts/dom.js";
import { entryCard } from "../parts/entry_card.js";
import { empty, factList, growingList, page, section } from "../parts/page.js";
import { problemBox } from "../parts/problem.js";

const text = {
  title: "The book",
  lead: "Entries are only ever added. A mistake is taken back by an entry of its own, with a reason.",
  check: "Is the book sound?",
  sound: (/** @type {number} */ count) =>
    `Sound: ${plural(count, "entry", "entries")}, each fits the one before.`,
  unsound: "NOT sound. Stop working with it, keep a copy, and tell whoever looks after it.",
  unchecked: "Not checked yet since the start. Look again in a moment.",
  again: "Check now",
  head: "Newest mark (head)",
  headHint: "Write it down now and then: a book that was rewritten cannot show the same mark.",
  entries: "Entries, the newest first",
  oneEntry: (/** @type {string} */ seq) => `Entry ${seq}`,
  all: { href: "#/book", text: "All entries" },
  none: "The book is empty. The first freeze makes the first entries.",
};

/** @param {any} check */
function soundness(check) {
  if (check.sound === null) return el("p", { class: "notice notice-warn" }, text.unchecked);
  if (check.sound) return el("p", { class: "notice notice-good" }, text.sound(check.entries));
  return el(
    "div",
    { class: "problem" },
    el("p", { class: "problem-what" }, text.unsound),
    el(
      "ul",
      {},
      check.problems.map((/** @type {string} */ one) => el("li", {}, one)),
    ),
  );
}

/** @param {any} first */
function checkPart(first) {
  const place = el("div", { class: "form-part", "aria-live": "polite" });
  const draw = (/** @type {any} */ check) =>
    show(
      place,
      soundness(check),
      factList([[text.head, el("span", { class: "code hash" }, check.head)]]),
      el("p", { class: "hint" }, text.headHint),
    );
  const button = el("button", { type: "button", class: "button" }, text.again);
  button.addEventListener("click", async () => {
    button.disabled = true;
    await get("/ledger/check").then(draw, (problem) => show(place, problemBox(problem)));
    button.disabled = false;
  });
  draw(first);
  return section(text.check, place, button);
}

/** @param {import("../parts/page.js").Context} context */
export default async function book({ query }) {
  const seq = query.get("entry");
  if (seq) {
    const { items } = await get(
      `/ledger${search({ limit: 1, newest_first: "true", after: entryMarker(Number(seq) + 1) })}`,
    );
    return page({ title: text.oneEntry(seq), back: text.all }, items.map(entryCard));
  }
  const check = await get("/ledger/check");
  return page(
    { title: text.title, lead: text.lead },
    checkPart(check),
    section(
      text.entries,
      await growingList({
        label: text.entries,
        none: empty(text.none),
        row: entryCard,
        load: (after) => get(`/ledger${search({ limit: 25, newest_first: "true", after })}`),
      }),
    ),
  );
}

/** The list's own page marker for “before this entry”. @param {number} seq */
function entryMarker(seq) {
  return btoa(JSON.stringify([seq]))
    .replace(/=+$/, "")
    .replaceAll("+", "-")
    .replaceAll("/", "_");
}
