/** What a manager does to a room: which tanks stand in it, and its end. */

import { call } from "../net/api.js";
import { loadTanks } from "../net/bank.js";
import { sendAct } from "../net/acts.js";
import { el } from "./dom.js";
import { selectField, textField } from "./fields.js";
import { form } from "./form.js";
import { go, refresh } from "./go.js";
import { toast } from "./live.js";
import { disclosure, empty, section } from "./page.js";

const text = {
  tanks: "Tanks in this room",
  none: "By the book no tank stands in this room.",
  out: "Take it out",
  outName: (/** @type {string} */ tank) => `Take ${tank} out of this room`,
  isOut: (/** @type {string} */ tank) => `${tank} no longer stands in this room.`,
  put: "Put a tank here",
  which: "Which tank",
  choose: "Choose a tank",
  elsewhere: (/** @type {string} */ tank) => `${tank} (stands in another room)`,
  isIn: (/** @type {string} */ tank) => `${tank} stands here now. The figures count it.`,
  retire: "Take this room out of use",
  retireHint: "Only when no tank stands in it. Its history stays.",
  reason: "Reason",
  retired: "It is out of use.",
};

/** @param {string} tankId @param {string|null} roomId */
async function stand(tankId, roomId) {
  const { etag } = await call("GET", `/tanks/${tankId}`);
  await call("PATCH", `/tanks/${tankId}`, { body: { room_id: roomId }, etag });
}

/** @param {any} tank @param {boolean} mine */
function tankRow(tank, mine) {
  const out = el(
    "button",
    { type: "button", class: "button", "aria-label": text.outName(tank.name) },
    text.out,
  );
  out.addEventListener("click", async () => {
    out.disabled = true;
    try {
      await stand(tank.id, null);
      toast(text.isOut(tank.name));
      refresh();
    } catch (problem) {
      out.disabled = false;
      toast(/** @type {any} */ (problem).message, "check");
    }
  });
  return el(
    "li",
    {},
    el(
      "div",
      { class: "row" },
      el(
        "span",
        { class: "row-text" },
        el("a", { class: "row-title", href: `#/bank/tank/${tank.id}` }, tank.name),
      ),
      mine && el("span", { class: "row-end" }, out),
    ),
  );
}

/** @param {any} room */
async function putForm(room) {
  const others = (await loadTanks()).filter((one) => !one.retired_at && one.room_id !== room.id);
  if (!others.length) return null;
  const tank = selectField({
    name: "tank_id",
    label: text.which,
    required: true,
    none: text.choose,
    options: others.map((one) => ({
      value: one.id,
      text: one.room_id ? text.elsewhere(one.name) : one.name,
    })),
  });
  const built = form({
    key: `room-tank:${room.id}`,
    draft: false,
    fields: () => [tank],
    body: tank.node,
    submit: text.put,
    send: async ({ tank_id: id }) => {
      await stand(id, room.id);
      toast(text.isIn(others.find((one) => one.id === id)?.name));
      refresh();
    },
  });
  return disclosure(text.put, built.node);
}

/** @param {any} room @param {boolean} mine  whether this person may change it */
export async function tanksHere(room, mine) {
  return section(
    text.tanks,
    room.tanks.length
      ? el(
          "ul",
          { class: "rows" },
          room.tanks.map((/** @type {any} */ one) => tankRow(one, mine)),
        )
      : empty(text.none),
    mine && (await putForm(room)),
  );
}

/** @param {string} path */
export function retireForm(path) {
  const reason = textField({ name: "reason", label: text.reason, required: true });
  const built = form({
    key: `retire:${path}`,
    draft: false,
    kind: "danger",
    submit: text.retire,
    fields: () => [reason],
    body: [el("p", { class: "hint" }, text.retireHint), reason.node],
    send: async (values) => {
      await sendAct(`retire:${path}`, `${path}/retire`, values);
      toast(text.retired);
      go("#/rooms");
    },
  });
  return disclosure(text.retire, built.node);
}
