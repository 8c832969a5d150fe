/** The strip at the top: the way home, the search, the menu, and whose session this is. */

import { waitingCount } from "../net/alerts.js";
import { iMay, person, signOut, stationName } from "../net/session.js";
import { el, show } from "./dom.js";
import { toast } from "./live.js";

const text = {
  home: "Rimebook",
  homeName: "Rimebook, first page",
  find: "Find",
  menu: "Menu",
  signOut: "Sign out",
  signOutFailed:
    "Sign-out did not reach the station's computer. Try again before you leave this device.",
  pages: "All pages",
  alerts: (/** @type {number} */ waiting) => (waiting ? `Alerts (${waiting} waiting)` : "Alerts"),
};

/** @returns {{href: string, text: string, shown?: boolean}[]} */
function places() {
  return [
    { href: "#/", text: "Today" },
    { href: "#/alerts", text: text.alerts(waitingCount()) },
    { href: "#/dose", text: "Take a dose", shown: iMay("book") },
    { href: "#/freeze", text: "Log a freeze", shown: iMay("book") },
    { href: "#/bank", text: "The bank" },
    { href: "#/nitrogen", text: "Nitrogen" },
    { href: "#/round", text: "The next rounds" },
    { href: "#/rooms", text: "Rooms and oxygen" },
    { href: "#/find", text: "Find a straw or place" },
    { href: "#/stallions", text: "Stallions" },
    { href: "#/mares", text: "Mares" },
    { href: "#/batches", text: "Batches" },
    { href: "#/withdrawals", text: "Withdrawals" },
    { href: "#/dispatches", text: "Dispatches" },
    { href: "#/stock-takes", text: "Stock-takes" },
    { href: "#/book", text: "The book" },
    { href: "#/reading-room", text: "Reading room" },
    { href: "#/people", text: "People" },
    { href: "#/station", text: "The station" },
    { href: "#/account", text: "My account" },
  ].filter((place) => place.shown !== false);
}

export function drawTop() {
  const top = document.getElementById("top");
  if (!top) return;
  const who = person();
  if (!who) {
    show(top, el("span", { class: "top-name" }, crystal(), text.home));
    return;
  }
  show(
    top,
    el(
      "a",
      { class: "top-name", href: "#/", "aria-label": text.homeName },
      crystal(),
      el("span", { class: "top-station" }, stationName() || text.home),
    ),
    el("a", { class: "top-link", href: "#/find" }, text.find),
    menu(who),
  );
}

function crystal() {
  return el("img", { src: "/web/icon.svg", alt: "", width: 28, height: 28 });
}

/** @param {import("../net/session.js").Person} who */
function menu(who) {
  const list = el(
    "nav",
    { class: "menu", id: "menu", "aria-label": text.pages, hidden: true },
    el("p", { class: "menu-who" }, who.display_name, el("span", {}, ` · ${who.role}`)),
    el(
      "ul",
      {},
      places().map((place) =>
        el(
          "li",
          {},
          el(
            "a",
            {
              href: place.href,
              "aria-current": isHere(place.href) ? "page" : null,
            },
            place.text,
          ),
        ),
      ),
    ),
    signOutButton(),
  );
  const button = el(
    "button",
    {
      type: "button",
      class: "top-link",
      "aria-expanded": "false",
      "aria-controls": "menu",
    },
    text.menu,
  );
  const open = (/** @type {boolean} */ on) => {
    list.hidden = !on;
    button.setAttribute("aria-expanded", String(on));
  };
  button.addEventListener("click", () => open(list.hidden === true));
  list.addEventListener("click", (event) => {
    if (/** @type {Element} */ (event.target).closest("a")) open(false);
  });
  const box = el("div", { class: "menu-box" }, button, list);
  box.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && !list.hidden) {
      open(false);
      button.focus();
    }
  });
  box.addEventListener("focusout", (event) => {
    const next = /** @type {Node|null} */ (event.relatedTarget);
    if (next && !box.contains(next)) open(false);
  });
  return box;
}

/** @param {string} href */
function isHere(href) {
  return (location.hash || "#/") === href;
}

function signOutButton() {
  const button = el("button", { type: "button", class: "button button-wide" }, text.signOut);
  button.addEventListener("click", async () => {
    button.disabled = true;
    try {
      await signOut();
    } catch {
      button.disabled = false;
      toast(text.signOutFailed, "check");
      return;
    }
    location.hash = "#/sign-in";
    location.reload();
  });
  return button;
}
