/** The packing list: as cards on a screen, as one table with signature lines on paper. */

import { moment } from "../net/session.js";
import { plural, showNumber } from "../logic/numbers.js";
import { stepInWords } from "../logic/countdown.js";
import { showDay } from "../logic/times.js";
import { codeText, el } from "./dom.js";
import { factList } from "./page.js";

const text = {
  species: "Species",
  donor: "Donor",
  identity: "Identity number",
  breed: "Breed",
  mark: "Mark on the straws",
  type: "Type",
  collected: "Collected on",
  approval: "Approval number",
  approvalBoth: "Approval number (collected / processed)",
  processed: "Processed at",
  straws: "Straws",
  unknown: "not known",
  chip: "microchip ",
  tests: "Tests",
  straw: "Straw",
  load: "In the straw",
  dose: "A dose",
  postThaw: "Post-thaw",
  thaw: "Thaw",
  thawUnknown: "not known here: use the card of the laboratory that froze them",
  perMl: (/** @type {number} */ million) => `${showNumber(million)} million per mL before freezing`,
  ml: (/** @type {number} */ volume) => `${showNumber(volume)} mL`,
  motile: (/** @type {number} */ percent) => `${showNumber(percent)} % progressive`,
  result: (/** @type {any} */ one) =>
    `${one.test} ${one.result ?? "not recorded"}${one.sampled_on ? ` (${showDay(one.sampled_on)})` : ""}`,
  total: (/** @type {any} */ list) =>
    `${plural(list.straws, "straw")} of ${plural(list.donors, "donor")}`,
  paper: "Packing list, straws of frozen semen",
  taken: "This dispatch was taken back. This paper is void.",
  from: "From",
  to: "To",
  container: "Container",
  seal: "Seal on it",
  sealBefore: "Seals before",
  carrier: "Carrier",
  left: "Left",
  note: "Note",
  holds: "Nitrogen holds, reckoned",
  holdsUntil: (/** @type {string} */ cautious, /** @type {string} */ rated) =>
    `cautiously until ${cautious}, at most until ${rated}. Not measured: weigh it.`,
  use: "For use: ",
  signatures: [
    {
      who: "Packed and counted",
      means: "I took these straws from the tank, read their marks against this list and counted them.",
    },
    {
      who: "Sealed",
      means: "I closed the container; the seal named above is on it and unbroken.",
    },
    {
      who: "Received",
      means: "The seal was unbroken and its number this one; I counted the straws on arrival.",
    },
  ],
  line: "Name, signature, date and time",
};

/** @param {any} row */
function mark(row) {
  return row.batch_codes.includes(row.straw_mark) ? codeText(row.straw_mark) : row.straw_mark;
}

/** @param {any} row */
function day(row) {
  return row.collected_on
    ? `${row.collected_on_as_marked} (${showDay(row.collected_on)})`
    : text.unknown;
}

/** @param {any} row */
function identity(row) {
  if (row.donor_identity) return row.donor_identity;
  return row.donor_microchip ? text.chip + row.donor_microchip : text.unknown;
}

/** @param {any} row @returns {[string, any][]} */
function forUse(row) {
  return [
    [text.straw, row.straw_volume_ml && text.ml(row.straw_volume_ml)],
    [text.load, row.concentration_million_per_ml && text.perMl(row.concentration_million_per_ml)],
    [text.dose, row.straws_per_dose && plural(row.straws_per_dose, "straw")],
    [text.postThaw, row.post_thaw_percent && text.motile(row.post_thaw_percent)],
    [text.thaw, row.thaw ? row.thaw.map(stepInWords).join(", then ") : text.thawUnknown],
    [text.tests, row.tests.map(text.result).join(", ")],
  ];
}

/** @param {any} list */
export function packingCards(list) {
  return [
    list.rows.map((/** @type {any} */ row) =>
      el(
        "div",
        { class: "card no-print" },
        el(
          "p",
          { class: "goblet-head" },
          el("strong", {}, row.donor_name),
          el("strong", {}, plural(row.straws, "straw")),
        ),
        factList([
          [text.identity, identity(row)],
          [text.species, row.species],
          [text.breed, row.breed],
          [text.mark, mark(row)],
          [text.type, row.type],
          [text.collected, day(row)],
          [text.approval, row.approval_number ?? text.unknown],
          [text.processed, row.processing_approval_number],
          ...forUse(row),
        ]),
      ),
    ),
    el("p", { class: "walk-facts no-print" }, text.total(list)),
    el("p", { class: "hint no-print" }, list.columns_after),
  ];
}

/** The paper that travels with the container. @param {any} d */
export function packingPaper(d) {
  const list = d.packing_list;
  return el(
    "section",
    { class: "print-only paper" },
    el("h2", {}, text.paper),
    d.taken_back && el("p", { class: "paper-void" }, text.taken),
    factList(heads(d)),
    table(list),
    el("p", { class: "paper-small" }, list.columns_after),
    !d.taken_back && signatures(),
  );
}

/** @param {any} d @returns {[string, any][]} */
function heads(d) {
  const list = d.packing_list;
  const [on, ...before] = [...d.seals].reverse();
  const party = (/** @type {any[]} */ ...parts) => parts.filter(Boolean).join(", ");
  return [
    [text.from, party(list.from_name, list.from_country, list.from_approval_number)],
    [text.to, party(d.to, d.to_approval_number)],
    [text.left, moment(d.occurred_at)],
    [text.container, d.container],
    [text.carrier, d.carrier],
    [text.seal, on?.number],
    [text.sealBefore, before.map((one) => one.number).join(", ")],
    [
      text.holds,
      d.holding &&
        text.holdsUntil(moment(d.holding.cautious_until), moment(d.holding.holds_until)),
    ],
    [text.note, d.note],
  ];
}

/** @param {any} list */
function table(list) {
  const head = [
    ...[text.species, text.donor, text.breed, text.mark, text.type],
    ...[text.collected, text.approvalBoth, text.straws],
  ];
  return el(
    "table",
    { class: "paper-table" },
    el("thead", {}, el("tr", {}, head.map((name) => el("th", { scope: "col" }, name)))),
    el("tbody", {}, list.rows.flatMap(tableRows)),
    el(
      "tfoot",
      {},
      el(
        "tr",
        {},
        el("th", { colspan: head.length - 1, scope: "row" }, text.total(list)),
        el("td", {}, el("strong", {}, list.straws)),
      ),
    ),
  );
}

/** @param {any} row */
function tableRows(row) {
  const approved = [row.approval_number ?? text.unknown, row.processing_approval_number];
  const use = forUse(row).filter(([, value]) => value);
  return [
    el(
      "tr",
      {},
      el("td", {}, row.species),
      el("td", {}, el("strong", {}, row.donor_name), el("br"), identity(row)),
      el("td", {}, row.breed ?? text.unknown),
      el("td", {}, mark(row)),
      el("td", {}, row.type),
      el("td", {}, day(row)),
      el("td", {}, approved.filter(Boolean).join(" / ")),
      el("td", {}, el("strong", {}, row.straws)),
    ),
    el(
      "tr",
      { class: "paper-use" },
      el("td", { colspan: 8 }, text.use, use.map(([name, value]) => `${name}: ${value}`).join("; ")),
    ),
  ];
}

function signatures() {
  return el(
    "div",
    { class: "paper-signatures" },
    text.signatures.map(({ who, means }) =>
      el(
        "div",
        {},
        el("strong", {}, who),
        el("span", {}, means),
        el("span", { class: "paper-line" }, text.line),
      ),
    ),
  );
}
