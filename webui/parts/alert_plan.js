/** A page of its own for a part of how alerts are told: all of them change the one record. */

import { planPage } from "./plan_page.js";

const text = {
  back: { href: "#/alerts/settings", text: "How people are told" },
  readOnly: "Managers change this.",
};

/** @param {Omit<Parameters<typeof planPage>[0], "path"|"back"|"readOnly">} spec */
export function alertPlanPage(spec) {
  const readOnly = [spec.lead, " ", text.readOnly];
  return planPage({ ...spec, path: "/alert-settings", back: text.back, readOnly });
}
