/** My account: a new password, and tokens for programs that act in my name. */

import { call, get, post } from "../net/api.js";
import { moment, person } from "../net/session.js";
import { showDay } from "../logic/times.js";
import { el, show } from "../parts/dom.js";
import { ask } from "../parts/dialog.js";
import { dayField, passwordField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { disclosure, empty, factList, linkButton, page, plainRow, section } from "../parts/page.js";
import { passwordPair } from "../parts/signing.js";

const text = {
  title: "My account",
  device: "This device",
  scanner: { href: "#/scanner", text: "Scanner set-up and sounds" },
  facts: { name: "Name", username: "User name", role: "Role" },
  password: "Password",
  change: "Change my password",
  present: "Your present password",
  save: "Save the new password",
  saved: "The new password is saved. Everywhere else you are signed out now.",
  tokens: "Tokens for programs",
  tokensHint:
    "A program that sends a token acts as you. Give each program its own, and end those you do not use.",
  none: "You have no tokens.",
  make: "Make a token",
  tokenName: "What is it for?",
  until: "Last day",
  untilHint: "Empty: it ends after a year.",
  made: "This is the token. It is shown only now: copy it to its program.",
  end: "End it",
  endAsk: (/** @type {string} */ name) => `End the token “${name}”?`,
  endHint: "The program that uses it cannot sign in any more.",
  yes: "Yes, end it",
  no: "No, keep it",
  ended: "The token is ended.",
  detail: (/** @type {any} */ one) =>
    `until ${showDay(one.expires_on)}, ${one.last_used_at ? `last used ${moment(one.last_used_at)}` : "never used"}`,
};

function passwordForm() {
  const present = passwordField({
    name: "current_password",
    label: text.present,
    required: true,
    autocomplete: "current-password",
  });
  const pair = passwordPair();
  const fields = [present, ...pair.list];
  return form({
    key: "password",
    draft: false,
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit: text.save,
    send: async (values) => {
      if (!pair.agree()) throw Object.assign(new Error(pair.notSame), { status: 422 });
      await call("POST", "/session/password", {
        body: { password: values.password, current_password: values.current_password },
      });
      toast(text.saved);
      refresh();
    },
  }).node;
}

/** @param {any} token */
function tokenRow(token) {
  const end = el(
    "button",
    { type: "button", class: "button", "aria-label": `${text.end} ${token.name}` },
    text.end,
  );
  end.addEventListener("click", async () => {
    if (
      !(await ask({
        title: text.endAsk(token.name),
        body: el("p", {}, text.endHint),
        yes: text.yes,
        no: text.no,
        danger: true,
      }))
    )
      return;
    try {
      await call("DELETE", `/tokens/${token.id}`);
      toast(text.ended);
      refresh();
    } catch (problem) {
      toast(/** @type {any} */ (problem).message, "check");
    }
  });
  return el("li", {}, plainRow({ title: token.name, detail: text.detail(token), end }));
}

/** @param {HTMLElement} place  where the new token is shown, once */
function tokenForm(place) {
  const fields = [
    textField({ name: "name", label: text.tokenName, required: true }),
    dayField({ name: "expires_on", label: text.until, hint: text.untilHint }),
  ];
  return form({
    key: "token",
    draft: false,
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit: text.make,
    send: async (values) => {
      const made = await post("/tokens", values);
      show(
        place,
        el(
          "div",
          { class: "notice notice-good", tabindex: "-1" },
          el("p", {}, text.made),
          el("p", { class: "code hash", "data-token": "" }, made.token),
        ),
      );
      /** @type {HTMLElement} */ (place.firstChild).focus();
    },
  }).node;
}

export default async function account() {
  const who = /** @type {import("../net/session.js").Person} */ (person());
  const { items } = await get("/tokens?limit=1000");
  const place = el("div", {});
  return page(
    { title: text.title },
    factList([
      [text.facts.name, who.display_name],
      [text.facts.username, who.username],
      [text.facts.role, who.role],
    ]),
    section(text.device, linkButton(text.scanner)),
    section(text.password, disclosure(text.change, passwordForm())),
    section(
      text.tokens,
      el("p", { class: "hint" }, text.tokensHint),
      items.length ? el("ul", { class: "rows" }, items.map(tokenRow)) : empty(text.none),
      disclosure(text.make, tokenForm(place)),
      place,
    ),
  );
}
