/** Entering a room, or changing one. */

import { call } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { readVersion } from "../parts/conflict.js";
import { choiceField, numberField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { page } from "../parts/page.js";

const text = {
  titleNew: "Enter a room",
  title: (/** @type {string} */ name) => `Change ${name}`,
  back: { href: "#/rooms", text: "Rooms and oxygen" },
  name: "Name",
  volume: "Air in it, cubic metres",
  volumeHint:
    "In m³: length × width × height, the height counted up to 2 m at most, because cold gas lies low. Take off what stands in it (10 % is common).",
  changes: "Air changes an hour",
  changesHint:
    "What the fan moves in an hour, divided by the air in the room; its papers say it. Without a fan: 0.",
  fan: "Which fan",
  fans: {
    supply: "It blows fresh air in",
    exhaust: "It draws air out",
    none: "There is none, or it cannot be relied on. Doors are no ventilation",
  },
  ratio: "Litres of gas from one litre of liquid",
  ratioHint:
    "Sources say 680 to 700; 696: Lawrence Berkeley National Laboratory, PUB-3000. More in the mountains.",
  oxygen: "Oxygen of fresh air, %",
  oxygenHint: "Sources say 20.9 to 21; the lowest is the safe one.",
  ageing: "Allowance for ageing insulation",
  ageingHint: "The rated loss is multiplied by it. University of Oxford, S4/03, takes 2.",
  save: "Save",
  saved: "Saved.",
};

/** @param {any} room */
function roomFields(room) {
  const number = (
    /** @type {string} */ name,
    /** @type {string} */ label,
    /** @type {string} */ hint,
    /** @type {any} */ value,
  ) => numberField({ name, label, hint, required: true, value: room[name] ?? value });
  return [
    textField({ name: "name", label: text.name, required: true, value: room.name }),
    number("volume_m3", text.volume, text.volumeHint, ""),
    choiceField({
      name: "ventilation",
      label: text.fan,
      required: true,
      value: room.ventilation,
      options: Object.entries(text.fans).map(([value, words]) => ({ value, text: words })),
    }),
    number("air_changes_per_hour", text.changes, text.changesHint, ""),
    number("expansion_ratio", text.ratio, text.ratioHint, 696),
    number("oxygen_percent", text.oxygen, text.oxygenHint, 20.9),
    number("ageing_factor", text.ageing, text.ageingHint, 2),
  ];
}

/** @param {import("../parts/page.js").Context} context */
export default async function roomEdit({ params }) {
  return params.id ? change(`/rooms/${params.id}`, params.id) : enter();
}

function enter() {
  const fields = roomFields({});
  const built = form({
    key: "room:new",
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit: text.save,
    send: async (values) => {
      const { data } = await sendAct("room:new", "/rooms", values);
      toast(text.saved);
      go(`#/rooms/${data.id}`);
    },
  });
  return page({ title: text.titleNew, back: text.back }, built.node);
}

/** @param {string} path @param {string} id */
async function change(path, id) {
  const first = await call("GET", path);
  const fields = roomFields(first.data);
  const record = readVersion({ path, first, fields, mine: (values) => values });
  const built = form({
    key: `room:${id}`,
    fields: () => fields,
    body: fields.map((one) => one.node),
    submit: text.save,
    send: async (values) => {
      await record.send(values);
      toast(text.saved);
      go(`#/rooms/${id}`);
    },
    refused: (problem) => record.refused(problem, built.said),
  });
  const back = { href: `#/rooms/${id}`, text: first.data.name };
  return page({ title: text.title(first.data.name), back }, built.node);
}
