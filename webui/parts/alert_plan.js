/** A page of its own for a part of how alerts are told: all of them change the one record. */

import { call } from "../net/api.js";
import { iMay } from "../net/session.js";
import { changesPart } from "./changes.js";
import { readVersion } from "./conflict.js";
import { el } from "./dom.js";
import { form } from "./form.js";
import { go } from "./go.js";
import { toast } from "./live.js";
import { factList, page } from "./page.js";

const PATH = "/alert-settings";

const text = {
  back: { href: "#/alerts/settings", text: "How people are told" },
  readOnly: "Managers change this.",
  save: "Save",
  saved: "Saved.",
};

/**
 * @param {{key: string, title: string, lead: string,
 *   facts: (plan: any) => [string, import("./dom.js").Children][],
 *   fields: (plan: any) => import("./fields.js").Field[],
 *   layout?: (fields: import("./fields.js").Field[]) => import("./dom.js").Children,
 *   mine: (values: any, plan: any) => any,
 *   more?: (plan: any) => import("./dom.js").Children}} spec
 *   `mine` makes of the values what is sent; what it leaves out stays as it is
 */
export async function alertPlanPage(spec) {
  const first = await call("GET", PATH);
  const { title, lead } = spec;
  if (!iMay("manage"))
    return page(
      { title, lead: [lead, " ", text.readOnly], back: text.back },
      factList(spec.facts(first.data)),
      changesPart(PATH),
    );
  const fields = spec.fields(first.data);
  const mine = (/** @type {any} */ values) => spec.mine(values, first.data);
  const record = readVersion({ path: PATH, first, fields, mine });
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
      toast(text.saved);
      go(text.back.href);
    },
    refused: (problem) => record.refused(problem, built.said),
  });
  return page(
    { title, lead, back: text.back },
    built.node,
    spec.more?.(first.data),
    changesPart(PATH),
  );
}
