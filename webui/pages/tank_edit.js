/** Changing a tank's record, its goblets' addresses, and taking empty places out of use. */

import { all, call } from "../net/api.js";
import { changedFields } from "../logic/changes.js";
import { sendAct } from "../net/acts.js";
import { el } from "../parts/dom.js";
import { readVersion } from "../parts/conflict.js";
import { numberField, selectField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go, refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { disclosure, later, page, section } from "../parts/page.js";
import { tankFields, tankLayout } from "../parts/tank_fields.js";

const text = {
  title: (/** @type {string} */ name) => `Change ${name}`,
  save: "Save",
  saved: "Saved.",
  goblets: "Goblets",
  goblet: (/** @type {any} */ goblet) => `Goblet ${goblet.address}`,
  canister: (/** @type {number} */ number) => `Canister ${number}`,
  address: "Address on its plate",
  capacity: "Straws it holds",
  retireTank: "Take this tank out of use",
  retireCanister: "Take this canister out of use",
  retireGoblet: "Take this goblet out of use",
  retireHint: "Only when it is empty. Its history stays.",
  reason: "Reason",
  room: "It stands in",
  noRoom: "No room that is entered",
  retired: "It is out of use.",
};

const NAMES = [
  "name",
  "short_name",
  "capacity_litres",
  "rated_loss_litres_per_day",
  "minimum_level_cm",
  "calibration",
  "quarantine",
];

/** @param {any} values */
function whole(values) {
  const said = NAMES.filter((name) => values[name] !== undefined);
  return {
    ...Object.fromEntries(said.map((name) => [name, values[name]])),
    room_id: values.room_id ?? null,
  };
}

/** @param {string} kind @param {string} id @param {string} words @param {string} after */
function retireForm(kind, id, words, after) {
  const reason = textField({ name: "reason", label: text.reason, required: true });
  const key = `retire:${id}`;
  return form({
    key,
    draft: false,
    kind: "danger",
    submit: words,
    fields: () => [reason],
    body: [el("p", { class: "hint" }, text.retireHint), reason.node],
    send: async (values) => {
      await sendAct(key, `/${kind}/${id}/retire`, values);
      toast(text.retired);
      go(after);
    },
  }).node;
}

/** @param {any} goblet */
function gobletForm(goblet) {
  const fields = [
    textField({ name: "address", label: text.address, required: true, value: goblet.address }),
    numberField({
      name: "capacity_straws",
      label: text.capacity,
      required: true,
      whole: true,
      least: 1,
      value: goblet.capacity_straws,
    }),
  ];
  return form({
    key: `goblet:${goblet.id}`,
    draft: false,
    fields: () => fields,
    submit: text.save,
    body: el(
      "div",
      { class: "pair" },
      fields.map((one) => one.node),
    ),
    send: async (values) => {
      const { etag } = await call("GET", `/goblets/${goblet.id}`);
      await call("PATCH", `/goblets/${goblet.id}`, { body: changedFields(goblet, values), etag });
      toast(text.saved);
      refresh();
    },
  }).node;
}

/** @param {any} tank @param {any} canister */
function canisterPart(tank, canister) {
  const here = `#/bank/tank/${tank.id}/edit`;
  return later(text.canister(canister.number), () => [
    ...canister.goblets.map((/** @type {any} */ goblet) =>
      later(text.goblet(goblet), () => [
        gobletForm(goblet),
        disclosure(text.retireGoblet, retireForm("goblets", goblet.id, text.retireGoblet, here)),
      ]),
    ),
    disclosure(
      text.retireCanister,
      retireForm("canisters", canister.id, text.retireCanister, here),
    ),
  ]);
}

/** @param {import("../parts/page.js").Context} context */
export default async function tankEdit({ params }) {
  const path = `/tanks/${params.id}`;
  const first = await call("GET", path);
  const base = first.data;
  const rooms = (await all("/rooms")).filter((one) => !one.retired_at);
  const room = selectField({
    name: "room_id",
    label: text.room,
    value: base.room_id ?? "",
    options: [
      { value: "", text: text.noRoom },
      ...rooms.map((/** @type {any} */ one) => ({ value: one.id, text: one.name })),
    ],
  });
  const f = { ...tankFields(base), room };
  const fields = Object.values(f);
  const record = readVersion({ path, first, fields, mine: whole });
  const built = form({
    key: `tank:${params.id}`,
    fields: () => fields,
    body: [tankLayout(f), room.node],
    submit: text.save,
    send: async (values) => {
      await record.send(values);
      toast(text.saved);
      go(`#/bank/tank/${params.id}`);
    },
    refused: (problem) => record.refused(problem, built.said),
  });
  return page(
    { title: text.title(base.name), back: { href: `#/bank/tank/${base.id}`, text: base.name } },
    built.node,
    section(
      text.goblets,
      base.canisters.map((/** @type {any} */ one) => canisterPart(base, one)),
    ),
    disclosure(text.retireTank, retireForm("tanks", base.id, text.retireTank, "#/bank")),
  );
}
