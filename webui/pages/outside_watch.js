/** Somebody outside who notices when this machine is silent. */

import { call, get } from "../net/api.js";
import { iMay, moment } from "../net/session.js";
import { alertPlanPage } from "../parts/alert_plan.js";
import { el, show } from "../parts/dom.js";
import { textField, tickField } from "../parts/fields.js";
import { factList, section } from "../parts/page.js";
import { problemBox } from "../parts/problem.js";

const text = {
  title: "The outside watch",
  lead: "When this machine is off, it cannot tell anybody. A service outside can: Rimebook calls an address there every five minutes while it watches, and when the calls stop, that service tells you.",
  address: "Address to call",
  hint: "Made at a service that watches for calls that stop. It begins with https:// and is treated like a password.",
  isSet: (/** @type {string} */ shown) =>
    `It is ${shown}, and not shown whole. Leave this empty to keep it.`,
  off: "Call it no longer",
  none: "none",
  test: "Call it now",
  testing: "Calling …",
  reached: "It answered: the outside watch works.",
  failed: (/** @type {string} */ error) => `It could not be reached: ${error}`,
  how: "How it goes",
  last: "Called last",
  failing: "Not reached since",
  error: "Last error",
};

function testButton() {
  const said = el("div", { role: "status" });
  const button = el("button", { type: "button", class: "button" }, text.test);
  button.addEventListener("click", async () => {
    button.disabled = true;
    button.textContent = text.testing;
    show(said);
    try {
      const { data } = await call("POST", "/alert-settings/outside-watch/test", {
        patienceMs: 60_000,
      });
      const kind = data.reached ? "good" : "warn";
      const words = data.reached ? text.reached : text.failed(data.error);
      show(said, el("p", { class: `notice notice-${kind}` }, words));
    } catch (problem) {
      show(said, problemBox(problem));
    }
    button.disabled = false;
    button.textContent = text.test;
  });
  return [button, said];
}

/** @param {any} watch */
function figures(watch) {
  return section(
    text.how,
    factList([
      [text.last, watch.last_ping_at && moment(watch.last_ping_at)],
      [text.failing, watch.ping_failing_since && moment(watch.ping_failing_since)],
      [text.error, watch.ping_error],
    ]),
    iMay("manage") && testButton(),
  );
}

/** @param {any} plan */
function fields(plan) {
  const known = plan.outside_watch_url;
  const address = textField({
    name: "outside_watch_url",
    label: text.address,
    hint: known ? text.isSet(known) : text.hint,
    required: !known,
    props: { type: "url", inputmode: "url", autocapitalize: "none", spellcheck: "false" },
  });
  return known ? [address, tickField({ name: "off", label: text.off })] : [address];
}

/** @param {any} values */
function mine({ outside_watch_url: url, off }) {
  if (off) return { outside_watch_url: null };
  return url ? { outside_watch_url: url } : {};
}

export default async function outsideWatch() {
  const watch = await get("/alerts/watch");
  return alertPlanPage({
    key: "outside-watch",
    title: text.title,
    lead: text.lead,
    fields,
    mine,
    facts: (plan) => [[text.address, plan.outside_watch_url ?? text.none]],
    more: (plan) => plan.outside_watch_url && figures(watch),
  });
}
