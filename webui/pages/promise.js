/** Promising doses of a stallion to a mare or to an owner, until a day. */

import { get, post } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { el } from "../parts/dom.js";
import { choiceField, dayField, numberField, suggestField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { page } from "../parts/page.js";
import { mareField } from "../parts/pickers.js";

const text = {
  title: (/** @type {any} */ stallion) => `Promise doses of ${stallion.name}`,
  lead: "They are kept back from everybody else. A withdrawal for this mare, or for a mare of this owner, uses them up.",
  to: "Promised to",
  tos: [
    { value: "mare", text: "A mare" },
    { value: "owner", text: "An owner", hint: "whichever of their mares it is for" },
  ],
  owner: "Owner",
  doses: "Doses",
  until: "Until and with",
  untilHint: "Leave it empty for a promise without an end.",
  note: "Note",
  submit: "Promise them",
  done: (/** @type {any} */ made) => `Promised to ${made.to}.`,
};

/** @param {import("../parts/page.js").Context} context */
export default async function promisePage({ params }) {
  const [stallion, owners] = await Promise.all([get(`/stallions/${params.id}`), get("/owners")]);
  const back = { href: `#/stallions/${stallion.id}`, text: stallion.name };
  const to = choiceField({
    name: "to",
    label: text.to,
    required: true,
    value: "mare",
    options: text.tos,
  });
  const mare = mareField();
  const owner = suggestField({
    name: "owner",
    label: text.owner,
    required: true,
    suggestions: [...new Set(owners.items.map((/** @type {any} */ one) => one.owner))],
  });
  const doses = numberField({
    name: "doses",
    label: text.doses,
    required: true,
    whole: true,
    least: 1,
    most: 1000,
  });
  const until = dayField({ name: "until", label: text.until, hint: text.untilHint });
  const note = textField({ name: "note", label: text.note });
  const toMare = () => to.raw() === "mare";
  const drawn = () => {
    mare.node.hidden = !toMare();
    owner.node.hidden = toMare();
  };
  to.node.addEventListener("change", drawn);
  const key = `promise:${stallion.id}`;
  const built = form({
    key,
    submit: text.submit,
    fields: () => [to, toMare() ? mare : owner, doses, until, note],
    body: [to.node, mare.node, owner.node, doses.node, until.node, note.node],
    send: async ({ to: _to, mare: chosen, ...rest }) => {
      const asked = { stallion_id: stallion.id, ...rest };
      if (chosen) asked.mare_id = chosen.mare_id ?? (await post("/mares", chosen.mare)).id;
      const { data } = await sendAct(key, "/promises", asked);
      toast(text.done(data));
      go(back.href);
    },
  });
  drawn();
  return page({ title: text.title(stallion), lead: text.lead, back }, el("div", {}, built.node));
}
