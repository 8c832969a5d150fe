/** The next rounds: which tank gets how much on which day, and the calendar of them. */

import { call, get, post } from "../net/api.js";
import { moment } from "../net/session.js";
import { plural, showNumber } from "../logic/numbers.js";
import { showDay } from "../logic/times.js";
import { el, show } from "../parts/dom.js";
import { toast } from "../parts/live.js";
import { badge, empty, linkButton, page, plainRow, section } from "../parts/page.js";
import { problemBox } from "../parts/problem.js";

const text = {
  title: "The next rounds",
  back: { href: "#/nitrogen", text: "Nitrogen" },
  lead: (/** @type {any} */ plan) =>
    `Until ${showDay(plan.until)}: every tank stays above its minimum with ${showNumber(plan.confidence_percent)} %, with as few visits as can be.`,
  none: "No tank needs nitrogen until then.",
  visit: (/** @type {any} */ visit) =>
    `${plural(visit.tanks, "tank")}, about ${showNumber(visit.litres, { decimals: 0 })} litres`,
  offDay: "not a fill day",
  litres: (/** @type {any} */ one) => `about ${showNumber(one.litres, { decimals: 1 })} litres`,
  short: (/** @type {number} */ litres) => `The supply vessel lacks ${showNumber(litres, { decimals: 0 })} litres.`,
  after: (/** @type {number} */ litres) => `Left in the supply vessel: ${showNumber(litres, { decimals: 0 })} litres.`,
  missed: "If a visit is missed",
  supply: "Supply vessel",
  shortage: (/** @type {any} */ one) =>
    `${showNumber(one.litres, { decimals: 0 })} litres more are needed by ${showDay(one.needed_by)}.`,
  enough: "What is in it, and the deliveries that are entered, are enough.",
  print: "Print this list",
  plan: "Fill days, supply and deliveries",
  calendar: "In your calendar",
  calendarLead:
    "A key of your own gives your telephone’s calendar the rounds, as “subscribed calendar” by address. Whoever has the address sees the rounds: treat it like a password, and revoke it when a telephone is lost.",
  make: "Make an address for my calendar",
  once: "Shown once. Copy it into your calendar as a subscription:",
  copy: "Copy",
  copied: "Copied.",
  keys: "Your keys",
  made: (/** @type {string} */ when) => `made ${when}`,
  revoke: "Revoke",
  revoked: "Revoked: that calendar gets nothing more.",
  noKeys: "You have none.",
};

/** @param {any} plan @param {any} visit */
function visitPart(plan, visit) {
  const items = plan.items.filter((/** @type {any} */ one) => one.date === visit.date);
  return section(
    showDay(visit.date),
    el("p", {}, el("strong", {}, text.visit(visit)), !visit.fill_day && [" ", badge(text.offDay, "warn")]),
    el(
      "ul",
      { class: "rows" },
      items.map((/** @type {any} */ one) =>
        el("li", {}, plainRow({ title: one.tank_name, detail: one.reason, end: text.litres(one) })),
      ),
    ),
    visit.missing_litres > 0
      ? el("p", { class: "notice notice-warn" }, text.short(visit.missing_litres))
      : visit.supply_litres_after !== null && el("p", { class: "hint" }, text.after(visit.supply_litres_after)),
  );
}

/** @param {any} supply */
function supplyPart(supply) {
  if (!supply) return null;
  return section(
    text.supply,
    supply.shortages.length
      ? el("ul", {}, supply.shortages.map((/** @type {any} */ one) => el("li", {}, text.shortage(one))))
      : el("p", {}, text.enough),
  );
}

function calendarPart() {
  const list = el("div", { class: "form-part" });
  const made = el("div", { class: "form-part" });
  const draw = async () => {
    try {
      const { items } = await get("/calendar-keys");
      show(
        list,
        items.length
          ? el("ul", { class: "rows" }, items.map((/** @type {any} */ one) => el("li", {}, keyRow(one, draw))))
          : el("p", { class: "hint" }, text.noKeys),
      );
    } catch (problem) {
      show(list, problemBox(problem));
    }
  };
  const make = el("button", { type: "button", class: "button" }, text.make);
  make.addEventListener("click", async () => {
    make.disabled = true;
    try {
      const key = await post("/calendar-keys", {});
      show(made, addressView(new URL(key.path, location.origin).href));
      await draw();
    } catch (problem) {
      show(made, problemBox(problem));
    }
    make.disabled = false;
  });
  draw();
  return section(text.calendar, el("p", {}, text.calendarLead), make, made, el("h3", {}, text.keys), list);
}

/** @param {string} address */
function addressView(address) {
  const field = el("input", { type: "text", readonly: true, value: address, "aria-label": text.once });
  const copy = el("button", { type: "button", class: "button" }, text.copy);
  copy.addEventListener("click", async () => {
    field.select();
    try {
      await navigator.clipboard.writeText(address);
      toast(text.copied);
    } catch {
      /* no clipboard on plain http: it is selected, and copied by hand */
    }
  });
  return [el("p", {}, text.once), el("div", { class: "beside" }, field, copy)];
}

/** @param {any} key @param {() => Promise<void>} draw */
function keyRow(key, draw) {
  const revoke = el("button", { type: "button", class: "button button-quiet" }, text.revoke);
  revoke.setAttribute("aria-label", `${text.revoke}: ${text.made(moment(key.created_at))}`);
  revoke.addEventListener("click", async () => {
    revoke.disabled = true;
    await call("DELETE", `/calendar-keys/${key.id}`);
    toast(text.revoked);
    await draw();
  });
  return plainRow({ title: text.made(moment(key.created_at)), end: revoke });
}

export default async function roundPage() {
  const plan = await get("/nitrogen/schedule?days=60");
  const print = el("button", { type: "button", class: "button no-print" }, text.print);
  print.addEventListener("click", () => window.print());
  return page(
    { title: text.title, lead: text.lead(plan), back: text.back },
    plan.warnings.map((/** @type {any} */ one) => el("p", { class: "notice notice-warn" }, one.message)),
    plan.visits.length ? plan.visits.map((/** @type {any} */ one) => visitPart(plan, one)) : empty(text.none),
    plan.if_missed.length > 0 &&
      section(text.missed, el("ul", {}, plan.if_missed.map((/** @type {any} */ one) => el("li", {}, one.words)))),
    supplyPart(plan.supply),
    print,
    el("p", { class: "ways no-print" }, linkButton({ href: "#/round/plan", text: text.plan })),
    el("div", { class: "no-print" }, calendarPart()),
  );
}
