/** The start of everything: who is signed in, the frame round the pages, which address shows what. */

import { onSessionEnd } from "./net/api.js";
import { forgetAll } from "./net/keep.js";
import { loadSession, moment, person, stationName } from "./net/session.js";
import { el, show } from "./parts/dom.js";
import { drawTop } from "./parts/top.js";
import { problemBox } from "./parts/problem.js";
import { startRouter } from "./parts/router.js";
import { backFrom } from "./logic/routes.js";
import { startWedge } from "./parts/wedge.js";

const text = {
  ended: "Your sign-in has ended",
  endedLead: "Sign in again and go on where you were. What you typed is kept.",
  again: "Try again",
  printed: (/** @type {string} */ station, /** @type {string} */ when, /** @type {string} */ who) =>
    `${station} · printed ${when} by ${who}`,
};

/** @type {Record<string, string>} */
const ROUTES = {
  "/": "home",
  "/sign-in": "sign_in",
  "/find": "find",
  "/bank": "bank",
  "/bank/new": "tank_new",
  "/bank/tank/:id": "tank",
  "/bank/tank/:id/edit": "tank_edit",
  "/bank/tank/:id/nitrogen": "tank_nitrogen",
  "/bank/tank/:id/dip": "dip",
  "/nitrogen": "nitrogen",
  "/round": "round",
  "/round/plan": "round_plan",
  "/alerts": "alerts",
  "/alerts/quality": "alert_quality",
  "/alerts/settings": "alert_settings",
  "/alerts/settings/channels/new": "channel_edit",
  "/alerts/settings/channels/:id": "channel",
  "/alerts/settings/channels/:id/edit": "channel_edit",
  "/alerts/settings/mail": "mail_server",
  "/alerts/settings/times": "alert_times",
  "/alerts/settings/outside": "outside_watch",
  "/alerts/settings/duty": "duty",
  "/alerts/settings/summary": "daily_summary",
  "/alerts/:id": "alert",
  "/rooms": "rooms",
  "/rooms/new": "room_edit",
  "/rooms/:id": "room",
  "/rooms/:id/edit": "room_edit",
  "/bank/canister/:id": "canister",
  "/bank/goblet/:id": "goblet",
  "/bank/goblet/:id/move": "move",
  "/bank/goblet/:id/discard": "discard",
  "/bank/goblet/:id/relocate": "relocate",
  "/bank/canister/:id/relocate": "relocate",
  "/bank/goblet/:id/owner": "owner",
  "/bank/:kind/:id/plates": "plates",
  "/import": "import",
  "/receipts/new": "receipt",
  "/freeze": "freeze",
  "/freeze/prepare": "prepare",
  "/freeze/new": "freeze_new",
  "/batches": "batches",
  "/batches/:id": "batch",
  "/batches/:id/codes": "batch_codes",
  "/batches/:id/labels": "labels",
  "/batches/:id/post-thaw": "post_thaw",
  "/dose": "dose",
  "/dose/walk": "walk",
  "/withdrawals": "withdrawals",
  "/withdrawals/:id": "withdrawal",
  "/withdrawals/:id/insemination": "insemination",
  "/withdrawals/:id/return": "give_back",
  "/withdrawals/:id/discard": "lifted_discard",
  "/withdrawals/:id/lost": "lost",
  "/dispatch/new": "dispatch_new",
  "/dispatches": "dispatches",
  "/dispatches/:id": "dispatch",
  "/dispatches/:id/back": "coming_back",
  "/stallions": "stallions",
  "/stallions/new": "stallion_edit",
  "/stallions/:id": "stallion",
  "/stallions/:id/edit": "stallion_edit",
  "/stallions/:id/promise": "promise",
  "/mares": "mares",
  "/mares/:id": "mare",
  "/straws/:code": "straw",
  "/book": "book",
  "/stock-takes": "stock_takes",
  "/stock-takes/new": "stock_take_new",
  "/stock-takes/plan": "stock_take_plan",
  "/stock-takes/:id": "stock_take",
  "/stock-takes/:id/count/:goblet": "count",
  "/reading-room": "reading_room",
  "/people": "people",
  "/people/:id": "person",
  "/station": "station",
  "/station/labels": "label_settings",
  "/backups": "backups",
  "/account": "account",
  "/scanner": "scanner",
};

/** Styles that neither the first page nor the sign-in has a use for: both stay light without them. */
const LATER = ["alert_pages", "bank", "dose", "labels", "nitrogen", "rounds", "stock_takes"];
const FIRST = ["home", "sign_in"];

/** @type {Promise<unknown>|null} */
let styled = null;

/** @param {string} name */
function addStyle(name) {
  const link = el("link", { rel: "stylesheet", href: `/web/styles/${name}.css` });
  const there = new Promise((resolve) => {
    link.addEventListener("load", resolve);
    link.addEventListener("error", resolve);
  });
  document.head.insertBefore(link, document.head.querySelector('link[media="print"]'));
  return there;
}

/** @param {string} name */
async function loadPage(name) {
  if (!FIRST.includes(name)) styled ??= Promise.all(LATER.map(addStyle));
  const [module] = await Promise.all([import(`./pages/${name}.js`), styled]);
  return module;
}

const PAGES = Object.fromEntries(
  [...new Set(Object.values(ROUTES))].map((name) => [name, () => loadPage(name)]),
);

/**
 * Where somebody goes instead of the page that was asked for, or null.
 * @param {import("./logic/routes.js").Match|null} match
 */
function elsewhere(match) {
  if (person() && match?.name === "sign_in") return backFrom(match.query);
  if (!person() && match?.name !== "sign_in") {
    const here = location.hash || "#/";
    return here === "#/" ? "#/sign-in" : `#/sign-in?to=${encodeURIComponent(here)}`;
  }
  return null;
}

/** @type {Promise<boolean>|null} */
let asking = null;

/** One dialog, however many requests found the session ended. */
function signInAgain() {
  asking ??= askAgain().finally(() => {
    asking = null;
  });
  return asking;
}

async function askAgain() {
  const before = person()?.username;
  if (!before) return false;
  const [{ dialog }, { signInForm }] = await Promise.all([
    import("./parts/dialog.js"),
    import("./parts/signing.js"),
  ]);
  let signedIn = false;
  await dialog(
    text.ended,
    (close) => [
      el("p", {}, text.endedLead),
      signInForm({
        username: before,
        done: () => {
          signedIn = true;
          close();
        },
      }),
    ],
    { closable: false },
  );
  if (signedIn && person()?.username !== before) {
    forgetAll();
    location.hash = "#/";
    location.reload();
    return false;
  }
  return signedIn;
}

async function start() {
  onSessionEnd(signInAgain);
  startWedge();
  window.addEventListener("beforeprint", stampPrint);
  const skip = document.getElementById("skip");
  skip?.addEventListener("click", (event) => {
    event.preventDefault();
    const target = document.querySelector("main h1") ?? document.getElementById("main");
    /** @type {HTMLElement|null} */ (target)?.focus();
  });
  try {
    await loadSession();
  } catch (problem) {
    showFailedStart(problem);
    return;
  }
  await startRouter({ routes: ROUTES, pages: PAGES, elsewhere, after: drawTop });
}

/** Paper says where and when it was printed. */
function stampPrint() {
  const line = document.getElementById("printed");
  if (line)
    line.textContent = text.printed(
      stationName(),
      moment(new Date().toISOString()),
      person()?.display_name ?? "",
    );
}

/** @param {unknown} problem */
function showFailedStart(problem) {
  const again = el("button", { type: "button", class: "button button-primary" }, text.again);
  again.addEventListener("click", () => location.reload());
  const main = document.getElementById("main");
  if (main) show(main, el("div", { class: "page" }, problemBox(problem), again));
}

start();
