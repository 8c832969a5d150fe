/** Recording an insemination: used, thawed but not used, and still frozen are three things. */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { link } from "../logic/routes.js";
import { plural } from "../logic/numbers.js";
import { el } from "../parts/dom.js";
import { areaField, momentField, numberField, suggestField } from "../parts/fields.js";
import { form, readFields } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { empty, page } from "../parts/page.js";

const text = {
  title: "Record the insemination",
  lead: (/** @type {any} */ w, /** @type {number} */ out) =>
    `${w.stallion_name} for ${w.mare_name}. ${plural(out, "straw")} out of the tank.`,
  at: "Inseminated at",
  used: "Straws used",
  unused: "Thawed, but not used",
  unusedHint: "They are booked as discarded: what has thawed never goes back.",
  method: "Method",
  methods: ["uterine body", "deep in the horn", "hysteroscopic"],
  note: "Note",
  submit: "Record the insemination",
  rest: (/** @type {number} */ rest) =>
    `${plural(rest, "straw")} still frozen, to be put back or discarded next.`,
  noRest: "No straw is left over.",
  tooMany: (/** @type {number} */ out) =>
    `Only ${plural(out, "straw")} out. Used and thawed together cannot be more.`,
  done: "The insemination is recorded.",
  none: "None of these straws is out any more.",
};

/** A device whose clock is slow must not put the insemination before the lift. @param {string} a @param {string} b */
function laterOf(a, b) {
  return Date.parse(a) >= Date.parse(b) ? a : b;
}

/** The field has no seconds: the minute of the lift means after the lift. @param {string} typed @param {any} w */
function notBeforeLift(typed, w) {
  const early = Date.parse(w.occurred_at) - Date.parse(typed);
  return early > 0 && early < 60_000 ? w.occurred_at : typed;
}

/** @param {any} w @param {number} out */
function fieldsFor(w, out) {
  return {
    at: momentField({
      name: "inseminated_at",
      label: text.at,
      required: true,
      value: laterOf(new Date().toISOString(), w.occurred_at),
    }),
    used: numberField({
      name: "straws_used",
      label: text.used,
      required: true,
      whole: true,
      least: 0,
      most: out,
      value: String(out),
    }),
    unused: numberField({
      name: "straws_thawed_unused",
      label: text.unused,
      hint: text.unusedHint,
      whole: true,
      least: 0,
      most: out,
      value: "0",
    }),
    method: suggestField({ name: "method", label: text.method, suggestions: text.methods }),
    note: areaField({ name: "note", label: text.note }),
  };
}

/** @param {import("../parts/page.js").Context} context */
export default async function insemination({ params }) {
  const w = await get(`/withdrawals/${params.id}`);
  const back = { href: `#/withdrawals/${w.id}`, text: `${w.stallion_name} for ${w.mare_name}` };
  const out = w.straws.filter((/** @type {any} */ one) => one.state === "lifted").length;
  if (!out)
    return page(
      { title: text.title, back, kind: "dose" },
      empty(text.none, { href: back.href, text: back.text }),
    );
  const f = fieldsFor(w, out);
  const fields = Object.values(f);
  const rest = el("p", { class: "notice", "aria-live": "polite" });
  const left = () => {
    const { values } = readFields([f.used, f.unused], { quiet: true });
    return out - (values.straws_used ?? 0) - (values.straws_thawed_unused ?? 0);
  };
  const tell = () => {
    rest.textContent =
      left() > 0 ? text.rest(left()) : left() < 0 ? text.tooMany(out) : text.noRest;
  };
  const key = `insemination:${w.id}`;
  const built = form({
    key,
    fields: () => fields,
    submit: text.submit,
    body: [
      el("div", { class: "pair" }, f.used.node, f.unused.node),
      rest,
      f.at.node,
      f.method.node,
      f.note.node,
    ],
    send: async (values) => {
      if (left() < 0) throw Object.assign(new Error(text.tooMany(out)), { status: 422 });
      const at = notBeforeLift(values.inseminated_at, w);
      await sendAct(key, `/withdrawals/${w.id}/insemination`, { ...values, inseminated_at: at });
      toast(text.done);
      go(left() > 0 ? link(`/withdrawals/${w.id}/return`) : back.href);
    },
  });
  built.node.addEventListener("input", tell);
  tell();
  return page({ title: text.title, lead: text.lead(w, out), back, kind: "dose" }, built.node);
}
