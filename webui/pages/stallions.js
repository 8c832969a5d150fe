/** All stallions with what is left of each. */

import { all } from "../net/api.js";
import { loadMarks } from "../net/bank.js";
import { iMay } from "../net/session.js";
import { ruleInShort } from "../logic/doses.js";
import { plural } from "../logic/numbers.js";
import { el } from "../parts/dom.js";
import { markBadge } from "../parts/mark.js";
import { badge, empty, linkButton, page, rowLink, straws } from "../parts/page.js";

const text = {
  title: "Stallions",
  lead: "What is left of each, and how many straws make a dose.",
  add: { href: "#/stallions/new", text: "Add a stallion" },
  none: "There is no stallion yet. A vet or a manager adds the first one, with his dose rule.",
  low: "low",
  filter: "Show only names with",
  doses: (/** @type {any} */ one) =>
    one.doses === null || one.doses === undefined ? "doses not known" : plural(one.doses, "dose"),
  nothingLeft: "no straws",
};

/** @param {any} stallion @param {any} stock @param {Map<string, any>} marks */
function row(stallion, stock, marks) {
  return el(
    "li",
    { "data-name": stallion.name.toLowerCase() },
    rowLink({
      href: `#/stallions/${stallion.id}`,
      mark: markBadge(marks.get(stallion.id)),
      title: stallion.name,
      detail: ruleInShort(stallion.dose_rule),
      end: stock?.straws
        ? [
            el("strong", {}, text.doses(stock)),
            el("br"),
            straws(stock.straws),
            stock.low && [el("br"), badge(text.low, "warn")],
          ]
        : [text.nothingLeft, stock?.low && [el("br"), badge(text.low, "warn")]],
    }),
  );
}

/** @param {HTMLElement} list */
function filterField(list) {
  const input = el("input", { type: "search", id: "stallion-filter", autocomplete: "off" });
  input.addEventListener("input", () => {
    const wanted = input.value.trim().toLowerCase();
    for (const item of /** @type {any} */ (list.children))
      item.hidden = !item.dataset.name.includes(wanted);
  });
  return el("div", { class: "field" }, el("label", { for: input.id }, text.filter), input);
}

export default async function stallions() {
  const [list, stock, marks] = await Promise.all([
    all("/stallions"),
    all("/stock/stallions"),
    loadMarks(),
  ]);
  const stockOf = new Map(stock.map((one) => [one.stallion_id, one]));
  const sorted = [...list].sort((a, b) => a.name.localeCompare(b.name, "en"));
  const rows = el(
    "ul",
    { class: "rows" },
    sorted.map((one) => row(one, stockOf.get(one.id), marks)),
  );
  return page(
    { title: text.title, lead: text.lead },
    iMay("rules") && linkButton(text.add),
    list.length > 8 && filterField(rows),
    list.length ? rows : empty(text.none),
  );
}
