/** Who may sign in: adding people, changing their role, closing accounts, one-time codes. */

import { call, get, post } from "../net/api.js";
import { iMay, moment, person } from "../net/session.js";
import { el, show } from "../parts/dom.js";
import { choiceField, textField, tickField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { accountEvents, mayReadAccounts } from "../parts/account_events.js";
import { badge, disclosure, later, page } from "../parts/page.js";
import { problemBox } from "../parts/problem.js";
import { ask } from "../parts/dialog.js";

const text = {
  title: "People",
  lead: "Everybody who may sign in. Each person has an account of their own: the book keeps who did what.",
  add: "Add a person",
  save: "Add and show the one-time code",
  username: "User name",
  usernameHint: "2 to 60 letters or digits, no spaces.",
  display: "Name, as it stands in the book",
  role: "Role",
  roles: [
    { value: "technician", text: "Technician", hint: "Freezes, moves, takes doses" },
    { value: "vet", text: "Vet", hint: "Also sets dose rules and goes against them with a reason" },
    { value: "manager", text: "Manager", hint: "Also people, tanks, station and the reserve" },
    { value: "auditor", text: "Auditor", hint: "Reads everything, books nothing" },
  ],
  code: (/** @type {string} */ username, /** @type {string} */ until) =>
    `One-time code for ${username}, good until ${until}. Hand it over in person; it is shown only now.`,
  change: "Change",
  closed: "Account closed",
  closedHint: "Signed out everywhere at once. Nothing of what they did is lost.",
  saveChange: "Save",
  saved: "Saved.",
  stale:
    "Somebody else changed this person meanwhile. The page shows the newest state now; change it again if need be.",
  reset: "Give a new one-time code",
  resetAsk: (/** @type {string} */ name) => `Give ${name} a one-time code?`,
  resetHint: "Their password stops working at once, and they are signed out everywhere.",
  yes: "Yes, make a code",
  no: "No",
  badge: "closed",
  events: "What happened to accounts",
};

/** @param {string} username @param {any} made */
function codeBox(username, made) {
  return el(
    "div",
    { class: "notice notice-good", tabindex: "-1" },
    el("p", {}, text.code(username, moment(made.one_time_code_expires_at))),
    el("p", { class: "code one-time" }, made.one_time_code),
  );
}

/** @param {HTMLElement} place @param {string} username @param {any} made */
function showCode(place, username, made) {
  show(place, codeBox(username, made));
  /** @type {HTMLElement} */ (place.firstChild).focus();
}

/** @param {HTMLElement} place */
function addForm(place) {
  const fields = [
    textField({
      name: "username",
      label: text.username,
      hint: text.usernameHint,
      required: true,
      props: { autocapitalize: "none", spellcheck: "false" },
    }),
    textField({ name: "display_name", label: text.display, required: true }),
    choiceField({ name: "role", label: text.role, required: true, options: text.roles }),
  ];
  return form({
    key: "person:new",
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit: text.save,
    send: async (values) => showCode(place, values.username, await post("/people", values)),
  }).node;
}

/** @param {any} one */
function changeForm(one) {
  const fields = [
    textField({
      name: "display_name",
      label: text.display,
      required: true,
      value: one.display_name,
    }),
    choiceField({
      name: "role",
      label: text.role,
      required: true,
      options: text.roles,
      value: one.role,
    }),
    tickField({
      name: "disabled",
      label: text.closed,
      hint: text.closedHint,
      value: one.disabled ? "yes" : "",
    }),
  ];
  const built = form({
    key: `person:${one.id}`,
    draft: false,
    fields: () => fields,
    body: fields.map((field) => field.node),
    submit: text.saveChange,
    send: async (values) => {
      const { etag } = await call("GET", `/people/${one.id}`);
      await call("PATCH", `/people/${one.id}`, { body: values, etag });
      toast(text.saved);
      refresh();
    },
    refused: (problem) => {
      if (problem.status !== 412) return false;
      toast(text.stale, "check");
      refresh();
      return true;
    },
  });
  return built.node;
}

/** @param {any} one @param {HTMLElement} place */
function resetButton(one, place) {
  const button = el("button", { type: "button", class: "button" }, text.reset);
  button.addEventListener("click", async () => {
    if (
      !(await ask({
        title: text.resetAsk(one.display_name),
        body: el("p", {}, text.resetHint),
        yes: text.yes,
        no: text.no,
      }))
    )
      return;
    try {
      showCode(place, one.username, await post(`/people/${one.id}/reset`, {}));
    } catch (problem) {
      show(place, problemBox(problem, "book"));
    }
  });
  return button;
}

/** @param {any} one */
function personCard(one) {
  const place = el("div", {});
  const mine = one.username === person()?.username;
  return el(
    "li",
    {},
    el(
      "div",
      { class: "entry" },
      el(
        "h3",
        {},
        el("a", { class: "line-link", href: `#/people/${one.id}` }, one.display_name),
        " ",
        el("small", {}, `${one.username} · ${one.role}`),
        " ",
        one.disabled && badge(text.badge, "warn"),
      ),
      iMay("manage") &&
        disclosure(text.change, changeForm(one), !mine && !one.disabled && resetButton(one, place)),
      place,
    ),
  );
}

export default async function people() {
  const { items } = await get("/people?limit=1000");
  const place = el("div", {});
  return page(
    { title: text.title, lead: text.lead },
    iMay("manage") && [disclosure(text.add, addForm(place)), place],
    el("ul", { class: "rows" }, items.map(personCard)),
    mayReadAccounts() && later(text.events, () => accountEvents()),
  );
}
