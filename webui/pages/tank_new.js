/** Setting up a tank in one go: what stands on it, its dipstick table, what hangs in it. */

import { sendAct } from "../net/acts.js";
import { form } from "../parts/form.js";
import { go } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { page } from "../parts/page.js";
import { layoutFields, tankFields, tankLayout } from "../parts/tank_fields.js";

const text = {
  title: "Set up a tank",
  lead: "Canisters and goblets get their addresses and codes at once.",
  back: { href: "#/bank", text: "The bank" },
  submit: "Set up this tank",
  done: (/** @type {string} */ name) => `${name} is set up.`,
};

export default async function tankNew() {
  const f = tankFields({});
  const layout = layoutFields();
  const built = form({
    key: "tank:new",
    submit: text.submit,
    fields: () => [...Object.values(f), ...layout.fields()],
    body: [...tankLayout(f), layout.node],
    send: async (values) => {
      const { layout_kind: _, ...body } = values;
      const { data } = await sendAct("tank:new", "/tanks", body);
      const warned = data.warnings.map((/** @type {any} */ one) => one.message).join(" ");
      toast(`${text.done(data.name)} ${warned}`.trim(), warned ? "check" : "done");
      go(`#/bank/tank/${data.id}`);
    },
  });
  layout.draw();
  return page({ title: text.title, lead: text.lead, back: text.back }, built.node);
}
