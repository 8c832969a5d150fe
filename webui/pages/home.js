/** The first page: what needs me now, the jobs as doors, what is unfinished. */

import { loadStanding } from "../net/alerts.js";
import { get } from "../net/api.js";
import { iMay, moment, person, stationName } from "../net/session.js";
import { showAge } from "../logic/times.js";
import { alertsNow } from "../parts/alerts_now.js";
import { el } from "../parts/dom.js";
import { empty, linkButton, page, rowLink, section, straws } from "../parts/page.js";

const text = {
  title: (/** @type {string} */ name) => name || "Today",
  scan: "Scan any code, here or on any page: what it is opens.",
  scanner: { href: "#/scanner", text: "Scanner set-up" },
  hello: (/** @type {string} */ name, /** @type {string} */ role) =>
    `Signed in as ${name}, ${role}.`,
  doors: {
    dose: {
      href: "#/dose",
      name: "Take a dose",
      hint: "The right straws, the fewest lifts, the thaw card",
    },
    freeze: {
      href: "#/freeze",
      name: "Log a freeze",
      hint: "Straws counted, places found, codes booked",
    },
    bank: {
      href: "#/bank",
      name: "The bank",
      hint: "Tanks, canisters, goblets: what stands where",
    },
    find: { href: "#/find", name: "Find", hint: "A straw, a place, a stallion" },
    stallions: { href: "#/stallions", name: "Stallions", hint: "Rules, stock and doses" },
    book: { href: "#/book", name: "The book", hint: "Every entry, and whether it is sound" },
    reading: {
      href: "#/reading-room",
      name: "Reading room",
      hint: "What was where on any day, and whatever was not plain sailing",
    },
    takes: {
      href: "#/stock-takes",
      name: "Stock-takes",
      hint: "Count what is in the tanks, and compare it with the book",
    },
    tank: {
      href: "#/bank/new",
      name: "Set up a tank",
      hint: "Its canisters, goblets and dipstick table",
    },
  },
  oldStock: "No straw is in the book yet. Old stock comes in from the station’s own list.",
  bringIn: { href: "#/import", text: "Bring in old stock" },
  byHand: { href: "#/receipts/new", text: "Enter a few straws by hand" },
  lifted: "Out of the tank, insemination not recorded",
  liftedRow: (/** @type {any} */ one) =>
    `${one.stallion_name} for ${one.mare_name ?? "a mare not named"}`,
  noneLifted:
    "Nothing is out of the tanks. When a dose is taken, it stands here until its insemination is recorded.",
  since: (/** @type {string} */ when, /** @type {string} */ age) => `since ${when} (${age})`,
};

/** Which doors stand first for whom. */
const ORDER = {
  technician: ["freeze", "dose", "bank", "find", "stallions", "book"],
  vet: ["dose", "stallions", "bank", "find", "freeze", "book"],
  manager: ["dose", "freeze", "bank", "find", "stallions", "book", "tank"],
  auditor: ["reading", "takes", "bank", "book", "find", "stallions"],
};

/** The first two are large; the rest stand two by two. @param {string} key @param {number} at */
function door(key, at) {
  const { href, name, hint } = text.doors[/** @type {keyof typeof text.doors} */ (key)];
  const kind = at === 0 && iMay("book") ? "door-first" : at > 1 ? "door-small" : "";
  return el(
    "a",
    { class: `door ${kind}`, href },
    el("span", { class: "door-name" }, name),
    el("span", { class: "door-hint" }, hint),
  );
}

/** @param {any} one @param {Node|null} mark */
function liftedRow(one, mark) {
  return el(
    "li",
    {},
    rowLink({
      href: `#/withdrawals/${one.id}`,
      mark,
      title: text.liftedRow(one),
      detail: text.since(moment(one.occurred_at), showAge(one.occurred_at, new Date())),
      end: straws(one.straws.filter((/** @type {any} */ straw) => straw.state === "lifted").length),
    }),
  );
}

/** What is out of the tanks, each with his mark: asked for only where there is any. */
async function liftedPart() {
  const { items } = await get("/withdrawals?state=lifted&limit=50");
  if (!items.length) return section(text.lifted, empty(text.noneLifted));
  const [{ loadMarks }, { markBadge }] = await Promise.all([
    import("../net/bank.js"),
    import("../parts/mark.js"),
  ]);
  const marks = await loadMarks();
  return section(
    text.lifted,
    el(
      "ul",
      { class: "rows" },
      items.map((/** @type {any} */ one) => liftedRow(one, markBadge(marks.get(one.stallion_id)))),
    ),
  );
}

/** For managers: that nothing is copied at all is no alert, and still theirs to mend. */
async function unsaved() {
  if (!iMay("manage")) return null;
  const [standing, { noFolderNotice }] = await Promise.all([
    get("/backups"),
    import("../parts/backup_notice.js"),
  ]);
  return noFolderNotice(standing);
}

/** @param {import("../parts/page.js").Context} context */
export default async function home({ signal }) {
  const who = /** @type {import("../net/session.js").Person} */ (person());
  const [standing, lifted, frozen, backups] = await Promise.all([
    loadStanding(),
    liftedPart(),
    // Not the stock: who sees that while a stock-take is open does not count blind.
    get("/batches?state=frozen&limit=1"),
    unsaved(),
  ]);
  const order = ORDER[/** @type {keyof typeof ORDER} */ (who.role)] ?? ORDER.auditor;
  return page(
    { title: text.title(stationName()) },
    alertsNow(standing, signal),
    backups,
    el("nav", { class: "doors", "aria-label": "Jobs" }, order.map(door)),
    el("p", { class: "hint" }, text.hello(who.display_name, who.role)),
    el(
      "p",
      { class: "hint" },
      text.scan,
      " ",
      el("a", { href: text.scanner.href }, text.scanner.text),
    ),
    !frozen.items.length &&
      iMay("book") && [empty(text.oldStock, text.bringIn), linkButton(text.byHand)],
    lifted,
  );
}
