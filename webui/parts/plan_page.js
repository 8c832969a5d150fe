/** A page for the one record of how this station does something, or for a part of it. */

import { call } from "../net/api.js";
import { iMay } from "../net/session.js";
import { changesPart } from "./changes.js";
import { readVersion } from "./conflict.js";
import { el } from "./dom.js";
import { form } from "./form.js";
import { go } from "./go.js";
import { toast } from "./live.js";
import { factList, page } from "./page.js";

const text = {
  save: "Save",
  saved: "Saved.",
};

/**
 * @param {{path: string, key: string, title: string, lead: string,
 *   back: {href: string, text: string}, readOnly: import("./dom.js").Children, saved?: string,
 *   facts: (plan: any) => [string, import("./dom.js").Children][],
 *   fields: (plan: any) => import("./fields.js").Field[],
 *   layout?: (fields: import("./fields.js").Field[]) => import("./dom.js").Children,
 *   mine?: (values: any, plan: any) => any,
 *   more?: (plan: any) => import("./dom.js").Children}} spec
 *   `mine` makes of the values what is sent, else they are; what it leaves out stays as it is;
 *   `readOnly` leads for those who may not change it
 */
export async function planPage(spec) {
  const { path, title, lead, back } = spec;
  const first = await call("GET", path);
  if (!iMay("manage"))
    return page(
      { title, lead: spec.readOnly, back },
      factList(spec.facts(first.data)),
      changesPart(path),
    );
  const fields = spec.fields(first.data);
  const mine = (/** @type {any} */ values) =>
    spec.mine ? spec.mine(values, first.data) : values;
  const record = readVersion({ path, first, fields, mine });
  const built = form({
    key: spec.key,
    fields: () => fields,
    body:
      spec.layout?.(fields) ??
      el(
        "div",
        { class: "form-part" },
        fields.map((one) => one.node),
      ),
    submit: text.save,
    send: async (values) => {
      await record.send(values);
      toast(spec.saved ?? text.saved);
      go(back.href);
    },
    refused: (problem) => record.refused(problem, built.said),
  });
  return page(
    { title, lead, back },
    built.node,
    spec.more?.(first.data),
    changesPart(path),
  );
}
