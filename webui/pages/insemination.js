/** Recording an insemination: used, thawed but not used, and still frozen are three things. */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { link } from "../logic/routes.js";
import { plural } from "../logic/numbers.js";
import { batchCounts, batchesOf, codesOf, total } from "../parts/batch_counts.js";
import { el } from "../parts/dom.js";
import { areaField, momentField, suggestField } from "../parts/fields.js";
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

/** @param {any} w @param {any[][]} batches */
function fieldsFor(w, batches) {
  return {
    used: batchCounts({ name: "straws_used", label: text.used, batches, all: true }),
    unused: batchCounts({
      name: "straws_thawed_unused",
      label: text.unused,
      hint: text.unusedHint,
      batches,
      all: false,
    }),
    at: momentField({
      name: "inseminated_at",
      label: text.at,
      required: true,
      value: laterOf(new Date().toISOString(), w.occurred_at),
    }),
    method: suggestField({ name: "method", label: text.method, suggestions: text.methods }),
    note: areaField({ name: "note", label: text.note }),
  };
}

/** The request; codes only where straws of several batches are out. @param {any} values @param {any} w @param {any[][]} batches */
function requestOf({ straws_used, straws_thawed_unused, inseminated_at, ...rest }, w, batches) {
  const codes = batches.length > 1 && {
    used_straw_codes: codesOf(batches, straws_used),
    thawed_unused_straw_codes: codesOf(batches, straws_thawed_unused, straws_used),
  };
  return {
    ...rest,
    ...codes,
    straws_used: total(straws_used),
    straws_thawed_unused: total(straws_thawed_unused),
    inseminated_at: notBeforeLift(inseminated_at, w),
  };
}

/** How many straws stay frozen; below zero when more are named than there are. @param {ReturnType<typeof fieldsFor>} f @param {any[][]} batches */
function leftOver(f, batches) {
  const { values } = readFields([f.used, f.unused], { quiet: true });
  const left = batches.map(
    (straws, i) =>
      straws.length - (values.straws_used?.[i] ?? 0) - (values.straws_thawed_unused?.[i] ?? 0),
  );
  return left.some((count) => count < 0) ? -1 : total(left);
}

/** @param {import("../parts/page.js").Context} context */
export default async function insemination({ params }) {
  const w = await get(`/withdrawals/${params.id}`);
  const back = { href: `#/withdrawals/${w.id}`, text: `${w.stallion_name} for ${w.mare_name}` };
  const lifted = w.straws.filter((/** @type {any} */ one) => one.state === "lifted");
  if (!lifted.length) {
    return page({ title: text.title, back, kind: "dose" }, empty(text.none, back));
  }
  const batches = batchesOf(lifted);
  const f = fieldsFor(w, batches);
  const rest = el("p", { class: "notice", "aria-live": "polite" });
  const left = () => leftOver(f, batches);
  const tell = () => {
    rest.textContent =
      left() > 0 ? text.rest(left()) : left() < 0 ? text.tooMany(lifted.length) : text.noRest;
  };
  const key = `insemination:${w.id}`;
  const built = form({
    key,
    fields: () => Object.values(f),
    submit: text.submit,
    body: [f.used.node, f.unused.node, rest, f.at.node, f.method.node, f.note.node],
    send: async (values) => {
      if (left() < 0) throw Object.assign(new Error(text.tooMany(lifted.length)), { status: 422 });
      await sendAct(key, `/withdrawals/${w.id}/insemination`, requestOf(values, w, batches));
      toast(text.done);
      go(left() > 0 ? link(`/withdrawals/${w.id}/return`) : back.href);
    },
  });
  built.node.addEventListener("input", tell);
  tell();
  const lead = text.lead(w, lifted.length);
  return page({ title: text.title, lead, back, kind: "dose" }, built.node);
}
