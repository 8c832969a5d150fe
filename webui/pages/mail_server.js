/** The mail server that letters of alerts leave by. */

import { alertPlanPage } from "../parts/alert_plan.js";
import { numberField, passwordField, selectField, textField } from "../parts/fields.js";

const text = {
  title: "The mail server",
  lead: "E-mail leaves by this server. Whoever looks after the station’s mail knows these.",
  host: "Its name",
  hostHint: "Such as smtp.station.example. Empty: no e-mail is sent.",
  port: "Port",
  portHint: "Mostly 587 with STARTTLS, 465 with TLS from the start.",
  security: "How the way to it is protected",
  ways: [
    { value: "starttls", text: "STARTTLS (the usual one)" },
    { value: "tls", text: "TLS from the start" },
    { value: "none", text: "Not at all: only for a server on this machine" },
  ],
  username: "User name",
  usernameHint: "Often the whole address. Empty when the server asks for none.",
  password: "Password",
  isSet: "A password is set and never shown. Leave this empty to keep it.",
  notSet: "No password is set.",
  sender: "Letters come from",
  senderHint: "An address that the server may send for, such as rimebook@station.example.",
  set: "is set",
};

/** @param {string} name @param {string} label @param {string} hint @param {any} plan */
function line(name, label, hint, plan) {
  return textField({
    name,
    label,
    hint,
    value: plan[name] ?? undefined,
    props: { autocapitalize: "none", spellcheck: "false" },
  });
}

/** @param {any} plan */
function fields(plan) {
  return [
    line("mail_host", text.host, text.hostHint, plan),
    numberField({
      name: "mail_port",
      label: text.port,
      hint: text.portHint,
      value: plan.mail_port,
      required: true,
      whole: true,
      least: 1,
      most: 65535,
    }),
    selectField({
      name: "mail_security",
      label: text.security,
      value: plan.mail_security,
      required: true,
      options: text.ways,
    }),
    line("mail_username", text.username, text.usernameHint, plan),
    passwordField({
      name: "mail_password",
      label: text.password,
      hint: plan.mail_password_set ? text.isSet : text.notSet,
      autocomplete: "new-password",
    }),
    line("mail_sender", text.sender, text.senderHint, plan),
  ];
}

/** An empty password stays as it is; without a user name there is none. @param {any} values */
function mine({ mail_password: password, ...values }) {
  const changed = { mail_host: null, mail_username: null, mail_sender: null, ...values };
  if (!changed.mail_username) return { ...changed, mail_password: null };
  return password ? { ...changed, mail_password: password } : changed;
}

export default async function mailServer() {
  return alertPlanPage({
    key: "mail-server",
    title: text.title,
    lead: text.lead,
    fields,
    mine,
    facts: (plan) => [
      [text.host, plan.mail_host],
      [text.port, String(plan.mail_port)],
      [text.security, text.ways.find((one) => one.value === plan.mail_security)?.text],
      [text.username, plan.mail_username],
      [text.password, plan.mail_password_set && text.set],
      [text.sender, plan.mail_sender],
    ],
  });
}
