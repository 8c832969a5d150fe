/** “Where is …?”: a code, a stallion’s name or the address on a plate. */

import { get, search } from "../net/api.js";
import { byGoblet, loadMarks, loadStock, loadTanks } from "../net/bank.js";
import { groupedCode, looksLikeCode, misreadInWords, readCode } from "../logic/codes.js";
import { camera } from "../parts/camera.js";
import { el, show } from "../parts/dom.js";
import { foundInWords, pageOf } from "../parts/found.js";
import { go } from "../parts/go.js";
import { announce } from "../parts/live.js";
import { markBadge } from "../parts/mark.js";
import { empty, page, rowLink, section, straws } from "../parts/page.js";
import { debounce } from "../parts/pickers.js";
import { problemBox } from "../parts/problem.js";
import { sayAloud, saidNode } from "../parts/said.js";
import { misread, note, takesScans } from "../parts/wedge.js";

const text = {
  title: "Where is …?",
  label: "A code, a stallion’s name, or an address such as the one on a goblet’s plate",
  button: "Find",
  start:
    "Scan a code or start typing. Straws, batches and places are found by their nine-sign code.",
  nothing: (/** @type {string} */ typed) =>
    `Nothing fits “${typed}”. Try a part of the name, or the code’s nine signs.`,
  stallions: "Stallions",
  places: "Places",
  notStored: "No straws in the bank",
  found: (/** @type {number} */ count) => `${count} found`,
  complete: (/** @type {string} */ code, /** @type {string} */ kind) =>
    `${groupedCode(code)} is the code of a ${kind}, and its check is right. Press Find.`,
};

/** @param {string} code */
async function openCode(code) {
  const found = await get(`/scan/${code}`);
  go(pageOf(found));
  note(foundInWords(found));
}

/** @param {any} stallion @param {any[]} stock @param {Map<string, any>} marks */
function stallionRow(stallion, stock, marks) {
  const where = [...byGoblet(stock).values()].map(
    (items) => `${items[0].address}: ${items.reduce((sum, one) => sum + one.straws, 0)}`,
  );
  return el(
    "li",
    {},
    rowLink({
      href: `#/stallions/${stallion.id}`,
      mark: markBadge(marks.get(stallion.id)),
      title: stallion.name,
      detail: where.join(" · ") || text.notStored,
      end: straws(stock.reduce((sum, one) => sum + one.straws, 0)),
    }),
  );
}

/** @param {string} typed @returns {Promise<Node>} */
async function lookUp(typed) {
  const [{ items }, tanks, marks] = await Promise.all([
    get(`/stallions${search({ q: typed, limit: 8 })}`),
    loadTanks(),
    loadMarks(),
  ]);
  const stocks = await Promise.all(
    items.map((/** @type {any} */ one) => loadStock({ stallion_id: one.id })),
  );
  const wanted = typed.toLowerCase().replace(/\s/g, "");
  const places = tanks
    .flatMap(placesOf)
    .filter((one) => one.title.toLowerCase().replace(/\s/g, "").includes(wanted))
    .slice(0, 20);
  announce(text.found(items.length + places.length));
  if (!items.length && !places.length) return empty(text.nothing(typed));
  return el(
    "div",
    { class: "form" },
    items.length > 0 &&
      section(
        text.stallions,
        el(
          "ul",
          { class: "rows" },
          items.map((/** @type {any} */ one, /** @type {number} */ i) =>
            stallionRow(one, stocks[i], marks),
          ),
        ),
      ),
    places.length > 0 &&
      section(
        text.places,
        el(
          "ul",
          { class: "rows" },
          places.map((one) => el("li", {}, rowLink(one))),
        ),
      ),
  );
}

/** @param {any} tank @returns {{href: string, title: string, detail?: string}[]} */
function placesOf(tank) {
  return [
    { href: `#/bank/tank/${tank.id}`, title: tank.name },
    ...tank.canisters.flatMap((/** @type {any} */ canister) =>
      canister.goblets.map((/** @type {any} */ goblet) => ({
        href: `#/bank/goblet/${goblet.id}`,
        title: goblet.address,
        detail: `${tank.name}, canister ${canister.number}`,
      })),
    ),
  ];
}

/** As soon as the nine signs are there. @param {string} words @param {boolean} right */
function onTheSpot(words, right) {
  announce(words);
  return el("p", { class: `scan-spot scan-spot-${right ? "right" : "wrong"}` }, words);
}

export default async function find() {
  const input = el("input", {
    type: "search",
    id: "find-what",
    autocomplete: "off",
    autocapitalize: "none",
    spellcheck: "false",
    enterkeyhint: "search",
  });
  const results = el("div", {}, empty(text.start));
  const look = async (/** @type {boolean} */ sent) => {
    const typed = input.value.trim();
    if (!typed) return show(results, empty(text.start));
    try {
      const read = readCode(typed);
      if (read.ok && sent) return await openCode(read.code);
      if (read.ok) return show(results, onTheSpot(text.complete(read.code, read.kind), true));
      if (sent && looksLikeCode(typed))
        return show(results, el("p", { class: "problem", role: "alert" }, misreadInWords(read)));
      if (looksLikeCode(typed)) return show(results, onTheSpot(misreadInWords(read), false));
      const found = await lookUp(typed);
      if (typed === input.value.trim()) show(results, found);
    } catch (problem) {
      show(results, problemBox(problem));
    }
    return undefined;
  };
  input.addEventListener(
    "input",
    debounce(() => look(false), 300),
  );
  input.addEventListener("keydown", (event) => {
    if (event.key !== "Tab" || event.shiftKey || !readCode(input.value).ok) return;
    event.preventDefault();
    look(true);
  });
  takesScans(input, (scan) => {
    input.value = scan.code ? groupedCode(scan.code) : "";
    if (scan.code) return look(true);
    const said = misread(scan);
    show(results, saidNode(said));
    return sayAloud(said);
  });
  const seen = camera((code) => {
    input.value = groupedCode(code);
    look(true);
  });
  const form = el(
    "form",
    { class: "field", role: "search" },
    el("label", { for: input.id }, text.label),
    el(
      "div",
      { class: "beside" },
      input,
      el("button", { class: "button", type: "submit" }, text.button),
      seen.button,
    ),
    seen.panel,
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    look(true);
  });
  return page({ title: text.title }, form, results);
}
