/** The sign-in form, on its own page and in the dialog that appears when a session has ended. */

import { passwordNeeded, setFirstPassword, signIn } from "../net/session.js";
import { el, show } from "./dom.js";
import { passwordField, textField } from "./fields.js";
import { form } from "./form.js";

const text = {
  username: "User name",
  password: "Password or one-time code",
  passwordHint:
    "If you were given a one-time code, type it here. You then choose a password of your own.",
  signIn: "Sign in",
  wrong: "User name and password do not fit together. Look at both; capital letters count.",
  newPassword: "Your new password",
  newPasswordHint:
    "A sentence of four or more words is easy to keep and hard to guess. At least 12 characters.",
  twice: "The same again",
  notSame: "The two are not the same. Type the new password twice.",
  setPassword: "Save the password and go on",
};

/**
 * @param {{username?: string, done: () => void}} options
 */
export function signInForm({ username, done }) {
  const place = el("div", {});
  const choose = () => show(place, firstPassword(done));
  if (passwordNeeded()) choose();
  else show(place, credentials({ username, done, choose }));
  return place;
}

/** @param {{username?: string, done: () => void, choose: () => void}} options */
function credentials({ username, done, choose }) {
  const name = textField({
    name: "username",
    label: text.username,
    required: true,
    value: username,
    props: { autocomplete: "username", autocapitalize: "none", spellcheck: "false" },
  });
  const password = passwordField({
    name: "password",
    label: text.password,
    hint: text.passwordHint,
    required: true,
    autocomplete: "current-password",
  });
  const built = form({
    key: "sign-in",
    draft: false,
    fields: () => [name, password],
    body: [name.node, password.node],
    submit: text.signIn,
    send: async (values) => {
      const state = await signIn(values.username, values.password);
      if (state === "in") done();
      else choose();
    },
    refused: (problem) => {
      if (problem.status !== 401) return false;
      show(built.said, el("div", { class: "problem", role: "alert" }, text.wrong));
      password.focus();
      return true;
    },
  });
  return built.node;
}

/** @param {() => void} done */
function firstPassword(done) {
  const fields = passwordPair();
  const built = form({
    key: "first-password",
    draft: false,
    fields: () => fields.list,
    body: fields.list.map((one) => one.node),
    submit: text.setPassword,
    send: async (values) => {
      if (!fields.agree()) throw Object.assign(new Error(text.notSame), { status: 422 });
      await setFirstPassword(values.password);
      done();
    },
  });
  queueMicrotask(() => fields.list[0].focus());
  return built.node;
}

/** Two fields for a new password, and whether they agree. */
export function passwordPair() {
  const first = passwordField({
    name: "password",
    label: text.newPassword,
    hint: text.newPasswordHint,
    required: true,
    autocomplete: "new-password",
  });
  const second = passwordField({
    name: "again",
    label: text.twice,
    required: true,
    autocomplete: "new-password",
  });
  const valueOf = (/** @type {import("./fields.js").Field} */ field) => {
    const found = field.read();
    return found.ok ? found.value : "";
  };
  return {
    list: [first, second],
    agree: () => valueOf(first) === valueOf(second),
    notSame: text.notSame,
  };
}
