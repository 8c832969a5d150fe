/** Opening a stock-take: of what, and whether whoever counts is told what the book expects. */

import { sendAct } from "../net/acts.js";
import { get } from "../net/api.js";
import { loadTanks } from "../net/bank.js";
import { iMay } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { choiceField, tickField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { empty, page } from "../parts/page.js";
import { gobletsField, gobletsIn, sampleFields, tanksField } from "../parts/scope_fields.js";

const text = {
  title: "Open a stock-take",
  lead: "The book goes on while it is counted: each goblet is compared with the book as it stood when that goblet was counted.",
  back: { href: "#/stock-takes", text: "Stock-takes" },
  readOnly: "Managers and auditors open a stock-take. Everybody counts.",
  what: "What is counted",
  whole: "The whole bank",
  wholeHint: (/** @type {number} */ goblets) => plural(goblets, "goblet"),
  tanks: "Some tanks",
  goblets: "Some goblets",
  sample: "A random sample",
  sampleHint: "Goblets drawn by chance, so many that it says something about all of them",
  blind: "Nobody who counts is told what the book expects",
  blindHint:
    "A number that is known is easily found again. Who looked at the book before counting is marked so in the report.",
  open: "Open it",
  opened: "It is open. Everybody can count now.",
  none: "There is no goblet in use yet.",
};

export default async function stockTakeNew() {
  const frame = { title: text.title, lead: text.lead, back: text.back };
  if (!iMay("audit")) return page(frame, empty(text.readOnly, text.back));
  const [tanks, plan] = await Promise.all([loadTanks(), get("/stock-take-plan")]);
  const used = tanks.filter((one) => gobletsIn(one).length);
  const goblets = used.flatMap(gobletsIn).length;
  if (!goblets) return page(frame, empty(text.none, text.back));
  return page(frame, openForm(used, plan, goblets).node);
}

/** @param {any[]} tanks @param {any} plan @param {number} goblets */
function openForm(tanks, plan, goblets) {
  const what = choiceField({
    name: "what",
    label: text.what,
    required: true,
    value: "whole",
    options: [
      { value: "whole", text: text.whole, hint: text.wholeHint(goblets) },
      { value: "tanks", text: text.tanks },
      { value: "goblets", text: text.goblets },
      { value: "sample", text: text.sample, hint: text.sampleHint },
    ],
  });
  const [some, few] = [tanksField(tanks), gobletsField(tanks)];
  const sample = sampleFields(plan, goblets);
  const blind = tickField({
    name: "blind",
    label: text.blind,
    hint: text.blindHint,
    value: "yes",
  });
  const parts = { tanks: some.node, goblets: few.node, sample: sample.node };
  const draw = () => {
    for (const [name, node] of Object.entries(parts)) node.hidden = what.raw() !== name;
    sample.tell();
  };
  what.node.addEventListener("change", draw);
  /** Those that are asked now. */
  const asked = () =>
    ({ tanks: [some], goblets: [few], sample: [sample.confidence, sample.detect] })[what.raw()] ?? [];
  const key = "stock-take";
  const built = form({
    key,
    draft: false,
    fields: () => [what, ...asked(), blind],
    body: [what.node, ...Object.values(parts), blind.node],
    submit: text.open,
    send: async (values) => {
      const { data } = await sendAct(key, "/stock-takes", {
        scope: scopeOf(values),
        blind: values.blind,
      });
      toast(text.opened);
      go(`#/stock-takes/${data.id}`, { replace: true });
    },
  });
  draw();
  return built;
}

/** @param {any} values */
function scopeOf({ what, tank_ids, goblet_ids, confidence_percent, detect_percent }) {
  if (what === "tanks") return { tank_ids };
  if (what === "goblets") return { goblet_ids };
  return what === "sample" ? { sample: { confidence_percent, detect_percent } } : {};
}
