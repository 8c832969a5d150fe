/** The rounds in one's own calendar: an address that is shown once, how to subscribe, one's keys. */

import { all, call, post } from "../net/api.js";
import { moment } from "../net/session.js";
import { el, show } from "./dom.js";
import { ask } from "./dialog.js";
import { toast } from "./live.js";
import { disclosure, plainRow, section } from "./page.js";
import { problemBox } from "./problem.js";

const text = {
  title: "In your calendar",
  lead: "Your phone’s calendar can show the rounds and keep them right by itself: a tank that was filled drops out. Whoever has the address can read the rounds, so treat it like a password.",
  make: "Make an address for my calendar",
  once: "Shown once. Copy it into your calendar as a subscription:",
  copy: "Copy the address",
  copied: "Copied.",
  byHand: "This browser does not copy by itself. The address is marked: copy it by hand.",
  how: "How to subscribe",
  ways: [
    "On the phone itself, open this page and copy the address.",
    "Apple: Settings, Apps, Calendar, Calendar Accounts, Add Account, Other, Add Subscribed Calendar; paste it.",
    "Google: on a computer, in the calendar on the web, Other calendars, From URL; the phone follows. It reads only addresses that the whole internet can reach.",
    "Others (Thunderbird, Outlook, an Android app for ICS or webcal): “subscribe to a calendar by address”; do not import a file, it would never change again.",
    "The phone has to reach this address: within the station’s network it is enough to be there now and then.",
  ],
  source: "The names of menus are from memory and differ between versions.",
  keys: "Your keys",
  none: "You have none.",
  made: (/** @type {string} */ when) => `Made ${when}`,
  revoke: "Revoke",
  revokeName: (/** @type {string} */ when) => `Revoke the key made ${when}`,
  revokeAsk: "Revoke this key?",
  revokeHint: "The calendar that uses it gets nothing more. That cannot be undone.",
  yes: "Yes, revoke it",
  no: "No, keep it",
  revoked: "Revoked: that calendar gets nothing more.",
};

/** @param {string} address */
function addressView(address) {
  const field = el("input", {
    type: "text",
    class: "calendar-address",
    readonly: true,
    value: address,
    "aria-label": text.once,
  });
  const said = el("p", { class: "hint", "aria-live": "polite" });
  const copy = el("button", { type: "button", class: "button" }, text.copy);
  copy.addEventListener("click", async () => {
    field.select();
    try {
      await navigator.clipboard.writeText(address);
      show(said, text.copied);
    } catch {
      show(said, text.byHand); // no clipboard on plain http: it is marked
    }
  });
  return el(
    "div",
    { class: "notice notice-good" },
    el("p", {}, el("strong", {}, text.once)),
    field,
    copy,
    said,
  );
}

/** @param {any} key @param {() => Promise<void>} redraw */
function keyRow(key, redraw) {
  const when = moment(key.created_at);
  const end = el(
    "button",
    { type: "button", class: "button", "aria-label": text.revokeName(when) },
    text.revoke,
  );
  end.addEventListener("click", async () => {
    const question = { title: text.revokeAsk, body: el("p", {}, text.revokeHint) };
    if (!(await ask({ ...question, yes: text.yes, no: text.no, danger: true }))) return;
    try {
      await call("DELETE", `/calendar-keys/${key.id}`);
      toast(text.revoked);
      await redraw();
    } catch (problem) {
      toast(/** @type {any} */ (problem).message, "check");
    }
  });
  return el("li", {}, plainRow({ title: text.made(when), end }));
}

export function calendarPart() {
  const list = el("div", { class: "form-part" });
  const made = el("div", { class: "form-part" });
  const draw = async () => {
    try {
      const items = await all("/calendar-keys");
      const rows = items.map((/** @type {any} */ one) => keyRow(one, draw));
      show(
        list,
        items.length ? el("ul", { class: "rows" }, rows) : el("p", { class: "hint" }, text.none),
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
      made.querySelector("input")?.focus();
      await draw();
    } catch (problem) {
      show(made, problemBox(problem));
    }
    make.disabled = false;
  });
  draw();
  return section(
    text.title,
    el("p", {}, text.lead),
    make,
    made,
    disclosure(
      text.how,
      el(
        "ul",
        { class: "steps" },
        text.ways.map((one) => el("li", {}, one)),
      ),
      el("p", { class: "hint" }, text.source),
    ),
    el("h3", {}, text.keys),
    list,
  );
}
