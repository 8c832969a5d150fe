/** Moving a goblet, a canister, or all goblets of a canister: where to, and what that comes to. */

import { sendAct } from "../net/acts.js";
import { get, search } from "../net/api.js";
import { byGoblet, loadMarks, loadStock, loadTanks, whereIs } from "../net/bank.js";
import { plural } from "../logic/numbers.js";
import { caution } from "../parts/cautions.js";
import { sumStraws } from "../parts/bank_map.js";
import { ask } from "../parts/dialog.js";
import { el, show } from "../parts/dom.js";
import { choiceField, numberField, selectField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { hangField } from "../parts/hang_field.js";
import { page, section } from "../parts/page.js";
import { problemBox } from "../parts/problem.js";
import { addressList, movedPage, preview } from "../parts/rehung.js";
import { whenField } from "../parts/when.js";

const text = {
  goblet: (/** @type {any} */ at) => `Move goblet ${at.goblet.address}`,
  canister: (/** @type {any} */ at) => `Move canister ${at.canister.number} of ${at.tank.name}`,
  back: (/** @type {any} */ at) =>
    at.goblet ? `Goblet ${at.goblet.address}` : `${at.tank.name}, canister ${at.canister.number}`,
  lead: (/** @type {number} */ straws) =>
    straws
      ? `Its ${plural(straws, "straw")} go with it.`
      : "It is empty.",
  noSuch: "There is no such place in use",
  bank: { href: "#/bank", text: "The bank" },
  what: "What moves",
  whole: "The canister itself, into another tank",
  goblets: "Only its goblets, into another canister",
  number: "Number in that tank",
  numberHint: "Left empty, it gets the next free number.",
  tier: "Layer",
  tiers: { "": "As it is now", upper: "Upper layer", lower: "Lower layer" },
  comes: "What it comes to",
  choose: "Choose where it goes; the new addresses stand here before anything is booked.",
  reason: "Reason",
  submit: "Book the move",
  sure: "Book this move?",
  sureLead: "Book it when it hangs there, or have one of you book while the other lifts.",
  yes: "Yes, book it",
  no: "Not yet",
};

/** @param {any} at @param {Map<string, any[]>} contents */
function strawsOf(at, contents) {
  const goblets = at.goblet ? [at.goblet] : at.canister.goblets;
  return goblets.reduce(
    (/** @type {number} */ sum, /** @type {any} */ one) =>
      sum + sumStraws(contents.get(one.id) ?? []),
    0,
  );
}

/** What is asked besides the place. @param {any} at */
function furtherFields(at) {
  const what = choiceField({
    name: "what",
    label: text.what,
    value: "whole",
    options: [
      { value: "whole", text: text.whole },
      ...(at.canister.goblets.length ? [{ value: "goblets", text: text.goblets }] : []),
    ],
  });
  const number = numberField({
    name: "number",
    label: text.number,
    hint: text.numberHint,
    whole: true,
    least: 1,
  });
  const tier = selectField({
    name: "tier",
    label: text.tier,
    options: Object.entries(text.tiers).map(([value, words]) => ({ value, text: words })),
  });
  return { what, number, tier };
}

/**
 * What the service is asked, or null while the place is not chosen yet.
 * @param {any} at @param {any} chosen @param {ReturnType<typeof furtherFields>} further
 */
function wanted(at, chosen, further) {
  if (at.goblet)
    return (
      chosen.canister && { canister_id: chosen.canister.id, tier: further.tier.raw() || undefined }
    );
  if (further.what.raw() === "goblets")
    return chosen.canister && { canister_id: chosen.canister.id };
  const number = further.number.read();
  if (!chosen.tank || !number.ok) return null;
  return { tank_id: chosen.tank.id, number: number.value };
}

/** The canister that is looked at afterwards. @param {any} at @param {any} chosen @param {any} coming */
function targetOf(at, chosen, coming) {
  if (chosen.canister)
    return { tank: chosen.tank, canister: chosen.canister, number: chosen.canister.number };
  return { tank: chosen.tank, canister: at.canister, number: coming.number };
}

/** @param {any} at @param {any} body */
async function foresee(at, body) {
  if (at.goblet) return get(`/goblets/${at.goblet.id}/relocation${search(body)}`);
  const { canister_id, ...rest } = body;
  return get(`/canisters/${at.canister.id}/relocation${search({ into: canister_id, ...rest })}`);
}

/** The number a canister gets that names none. @param {any} tank @param {any} canister */
function nextNumber(tank, canister) {
  const taken = new Set(
    tank.canisters
      .filter((/** @type {any} */ one) => one.id !== canister.id)
      .map((/** @type {any} */ one) => one.number),
  );
  let number = 1;
  while (taken.has(number)) number += 1;
  return number;
}

/** @param {any} bank @param {any} at */
function relocateForm(bank, at) {
  const { tanks, inside } = bank;
  const further = furtherFields(at);
  const coming = el("div", { class: "form-part", "aria-live": "polite" });
  /** @type {any} */
  let foreseen = null;
  const intoCanister = () => Boolean(at.goblet) || further.what.raw() === "goblets";
  const redraw = async () => {
    further.number.node.hidden = intoCanister();
    const body = wanted(at, hang.chosen(), further);
    foreseen = null;
    if (!body) return show(coming, el("p", { class: "hint" }, text.choose));
    const asked = JSON.stringify(body);
    try {
      const found = await foresee(at, body);
      if (asked !== JSON.stringify(wanted(at, hang.chosen(), further))) return undefined;
      const { tank } = hang.chosen();
      const number = body.number ?? nextNumber(tank, at.canister);
      foreseen = found;
      return show(
        coming,
        preview(found, targetOf(at, hang.chosen(), { number }), tanks, inside),
      );
    } catch (problem) {
      return show(coming, problemBox(problem));
    }
  };
  const hang = hangField({
    tanks,
    inside,
    withCanister: intoCanister,
    leaveOut: (one) => !at.goblet && one.id === at.canister.id,
    changed: redraw,
  });
  further.what.node.addEventListener("change", () => {
    hang.draw();
    redraw();
  });
  further.number.node.addEventListener("change", redraw);
  further.tier.node.addEventListener("change", redraw);
  redraw();
  return { further, hang, coming, intoCanister, foreseen: () => foreseen };
}

/** @param {any} coming @param {Map<string, any[]>} contents */
function sure(coming, contents) {
  return ask({
    title: text.sure,
    body: [el("p", {}, text.sureLead), addressList(coming, contents)],
    yes: text.yes,
    no: text.no,
  });
}

/** @param {import("../parts/page.js").Context} context */
export default async function relocatePage({ params }) {
  const [allTanks, stock, marks] = await Promise.all([loadTanks(), loadStock({}), loadMarks()]);
  const tanks = allTanks.filter((one) => !one.retired_at);
  const at = whereIs(tanks, params.id);
  if (!at) return page({ title: text.noSuch, back: text.bank });
  const inside = { contents: byGoblet(stock), marks };
  const title = at.goblet ? text.goblet(at) : text.canister(at);
  const kind = at.goblet ? "goblet" : "canister";
  const home = `#/bank/${kind}/${params.id}`;
  const parts = relocateForm({ tanks, inside }, at);
  const reason = textField({ name: "reason", label: text.reason });
  const when = whenField();
  const key = `relocate:${params.id}`;
  const { what, number, tier } = parts.further;
  const built = form({
    key,
    draft: false,
    submit: text.submit,
    fields: () => [
      ...parts.hang.fields(),
      ...(parts.intoCanister() ? [] : [number]),
      reason,
      when.field,
    ],
    body: [
      !at.goblet && what.node,
      parts.hang.node,
      at.goblet ? tier.node : number.node,
      section(text.comes, parts.coming),
      reason.node,
      when.node,
    ],
    send: async (values) => {
      const body = wanted(at, parts.hang.chosen(), parts.further);
      const coming = parts.foreseen() ?? (await foresee(at, body));
      if (!(await sure(coming, inside.contents))) return false;
      const { reason: why, occurred_at } = values;
      const path = `/${kind}s/${params.id}/relocate`;
      const { data } = await sendAct(key, path, { ...body, reason: why, occurred_at });
      const canisterId = body.canister_id ?? params.id;
      const after = await movedPage(data, { id: params.id, home, canisterId, marks });
      shown.replaceWith(after);
      after.querySelector("h1")?.focus();
      window.scrollTo(0, 0);
      return true;
    },
  });
  const shown = page(
    {
      title,
      lead: text.lead(strawsOf(at, inside.contents)),
      back: { href: home, text: text.back(at) },
    },
    caution("relocating"),
    built.node,
  );
  return shown;
}
