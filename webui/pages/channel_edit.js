/** Entering a way of telling somebody, or changing one. */

import { sendAct } from "../net/acts.js";
import { all, call } from "../net/api.js";
import { KINDS } from "../logic/channels.js";
import { readVersion } from "../parts/conflict.js";
import { el, show } from "../parts/dom.js";
import { choiceField, selectField, textField, tickField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { onceShown } from "../parts/once_shown.js";
import { linkButton, page } from "../parts/page.js";
import { prioritiesField } from "../parts/priorities_field.js";

const text = {
  titleNew: "Add a channel",
  lead: "A way to reach somebody who is not looking at this screen.",
  title: (/** @type {string} */ name) => `Change ${name}`,
  back: { href: "#/alerts/settings", text: "How people are told" },
  name: "Name",
  nameHint: "As it stands in lists, such as “Ilva by e-mail”.",
  kind: "By which way",
  kindHints: {
    email: "A letter, by the station’s mail server",
    webhook: "To a program, by https",
    push: "A phone push, an SMS or a chat, by a service for that",
  },
  targets: {
    email: { label: "E-mail address", hint: "Such as ilva@station.example" },
    webhook: {
      label: "Address of the program",
      hint: "It begins with https://. Only its host is shown later.",
    },
    push: {
      label: "Push address",
      hint: "In the notation of Apprise, which the service’s own instructions often give. It holds a key and is never shown again.",
    },
  },
  isSet: (/** @type {string} */ shown) => `It is ${shown}. Leave this empty to keep it.`,
  person: "Whom it reaches",
  personHint: "A person’s own channel counts for the duty rota.",
  station: "The station’s own: everybody who reads it",
  digest: "It takes the daily summary",
  enabled: "It is in use",
  enabledHint: "Without the tick nothing is sent this way.",
  add: "Add it",
  save: "Save",
  added: "Added. Send a test now.",
  saved: "Saved.",
  secret:
    "The secret that messages are signed with. It is shown only now: copy it to the receiver.",
  goOn: "Go on to the channel and send a test",
};

/** @typedef {"email"|"webhook"|"push"} Kind */

/** @param {Kind} kind @param {string} [shown]  what is shown of the one that is set */
function targetField(kind, shown) {
  const { label, hint } = text.targets[kind];
  const visible = kind === "email";
  return textField({
    name: "target",
    label,
    hint: shown && !visible ? text.isSet(shown) : hint,
    required: !shown || visible,
    value: shown && visible ? shown : undefined,
    props: {
      type: visible ? "email" : "text",
      autocapitalize: "none",
      spellcheck: "false",
    },
  });
}

/** @param {any} one @param {any[]} people */
function sharedFields(one, people) {
  const may = people.filter((who) => !who.disabled || who.id === one.person_id);
  return {
    name: textField({
      name: "name",
      label: text.name,
      hint: text.nameHint,
      required: true,
      value: one.name,
    }),
    person: selectField({
      name: "person_id",
      label: text.person,
      hint: text.personHint,
      required: false,
      none: text.station,
      value: one.person_id ?? "",
      options: may.map((who) => ({ value: who.id, text: who.display_name })),
    }),
    priorities: prioritiesField(one.priorities ?? ["critical", "medium"]),
    digest: tickField({ name: "digest", label: text.digest, value: one.digest ? "yes" : "" }),
  };
}

/** @param {any[]} people */
function enter(people) {
  const shared = sharedFields({}, people);
  const kind = choiceField({
    name: "kind",
    label: text.kind,
    required: true,
    options: /** @type {Kind[]} */ (Object.keys(KINDS)).map((value) => ({
      value,
      text: KINDS[value],
      hint: text.kindHints[value],
    })),
  });
  const targets = {
    email: targetField("email"),
    webhook: targetField("webhook"),
    push: targetField("push"),
  };
  const place = el("div", { class: "form-part" });
  const chosen = () => targets[/** @type {Kind} */ (kind.raw())];
  kind.node.addEventListener("change", () => show(place, chosen()?.node));
  const rest = [shared.person, shared.priorities, shared.digest];
  const body = el("div", { class: "section" });
  const built = form({
    key: "channel:new",
    draft: false,
    fields: () => [shared.name, kind, chosen(), ...rest].filter(Boolean),
    body: [shared.name.node, kind.node, place, ...rest.map((one) => one.node)],
    submit: text.add,
    send: async (values) => {
      const { data } = await sendAct("channel:new", "/alert-channels", values);
      toast(text.added);
      const href = `#/alerts/settings/channels/${data.id}`;
      if (!data.secret) return go(href);
      const box = onceShown(text.secret, data.secret);
      show(body, box, linkButton({ href, text: text.goOn, kind: "primary" }));
      box.focus();
      return undefined;
    },
  });
  body.append(built.node);
  return page({ title: text.titleNew, lead: text.lead, back: text.back }, body);
}

/** @param {string} id @param {any[]} people */
async function change(id, people) {
  const path = `/alert-channels/${encodeURIComponent(id)}`;
  const first = await call("GET", path);
  const one = first.data;
  const shared = sharedFields(one, people);
  const enabled = tickField({
    name: "enabled",
    label: text.enabled,
    hint: text.enabledHint,
    value: one.enabled ? "yes" : "",
  });
  const target = targetField(one.kind, one.target);
  const fields = [shared.name, target, shared.person, shared.priorities, shared.digest, enabled];
  const mine = (/** @type {any} */ values) => ({ person_id: null, ...values });
  const record = readVersion({ path, first, fields, mine });
  const built = form({
    key: `channel:${id}`,
    draft: false,
    fields: () => fields,
    body: fields.map((field) => field.node),
    submit: text.save,
    send: async (values) => {
      await record.send(values);
      toast(text.saved);
      go(`#/alerts/settings/channels/${id}`);
    },
    refused: (problem) => record.refused(problem, built.said),
  });
  const back = { href: `#/alerts/settings/channels/${id}`, text: one.name };
  return page({ title: text.title(one.name), back }, built.node);
}

/** @param {import("../parts/page.js").Context} context */
export default async function channelEdit({ params }) {
  const people = await all("/people");
  return params.id ? change(params.id, people) : enter(people);
}
