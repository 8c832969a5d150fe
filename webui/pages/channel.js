/** One way of telling somebody: how it goes, a test, a webhook's secret. */

import { call, get } from "../net/api.js";
import { iMay, moment } from "../net/session.js";
import { KINDS, STATES, takesInWords, testInWords } from "../logic/channels.js";
import { changesPart } from "../parts/changes.js";
import { ask } from "../parts/dialog.js";
import { el, show } from "../parts/dom.js";
import { onceShown } from "../parts/once_shown.js";
import { badge, factList, linkButton, page, section } from "../parts/page.js";
import { problemBox } from "../parts/problem.js";

const text = {
  back: { href: "#/alerts/settings", text: "How people are told" },
  facts: {
    way: "Way",
    to: "Goes to",
    of: "Reaches",
    takes: "Takes",
    sent: "Taken last",
    failing: "Failing since",
    error: "Last error",
    next: "Tried again",
  },
  own: "the station: everybody who reads it",
  change: "Change or switch off",
  test: "Send a test",
  testing: "Sending …",
  testHint: "It goes out at once and says what became of it.",
  secret: "The secret",
  secretHint:
    "Every message is signed with it (Standard Webhooks, the headers webhook-id, webhook-timestamp and webhook-signature), so that the receiver knows that it comes from here.",
  renew: "Make a new secret",
  renewAsk: "Make a new secret?",
  renewBody:
    "For 24 hours messages are signed with both, so that the receiver can be changed over. Then the old one is worth nothing.",
  yes: "Yes, make a new one",
  no: "No, keep it",
  once: "The new secret. It is shown only now: copy it to the receiver.",
};

/** @param {any} one */
function standing(one) {
  const { facts: f } = text;
  const state = STATES[one.state];
  const list = factList([
    [f.way, KINDS[one.kind]],
    [f.to, one.target],
    [f.of, one.person_name ?? text.own],
    [f.takes, takesInWords(one)],
    [f.sent, one.last_sent_at && moment(one.last_sent_at)],
    [f.failing, one.failing_since && moment(one.failing_since)],
    [f.error, one.last_error],
    [f.next, one.failing_since && one.next_try_at && moment(one.next_try_at)],
  ]);
  return [el("p", {}, badge(state.word, state.kind)), list];
}

/** @param {string} path @param {() => Promise<void>} after */
function testPart(path, after) {
  const said = el("div", { role: "status" });
  const button = el("button", { type: "button", class: "button button-primary" }, text.test);
  button.addEventListener("click", async () => {
    button.disabled = true;
    button.textContent = text.testing;
    show(said);
    try {
      const { data } = await call("POST", `${path}/test`, { patienceMs: 60_000 });
      const { words, kind } = testInWords(data);
      show(said, el("p", { class: `notice notice-${kind}` }, words));
      await after();
    } catch (problem) {
      show(said, problemBox(problem));
    }
    button.disabled = false;
    button.textContent = text.test;
  });
  return [button, el("p", { class: "hint" }, text.testHint), said];
}

/** @param {string} path */
function secretPart(path) {
  const place = el("div", {});
  const button = el("button", { type: "button", class: "button" }, text.renew);
  button.addEventListener("click", async () => {
    const body = el("p", {}, text.renewBody);
    if (!(await ask({ title: text.renewAsk, body, yes: text.yes, no: text.no }))) return;
    try {
      const { data } = await call("POST", `${path}/secret`);
      const box = onceShown(text.once, data.secret);
      show(place, box);
      box.focus();
    } catch (problem) {
      show(place, problemBox(problem));
    }
  });
  return section(
    text.secret,
    el("p", {}, text.secretHint),
    iMay("manage") && el("div", { class: "ways" }, button),
    place,
  );
}

/** @param {import("../parts/page.js").Context} context */
export default async function channelPage({ params }) {
  const path = `/alert-channels/${encodeURIComponent(params.id)}`;
  const [one, people] = await Promise.all([get(path), get("/people")]);
  const place = el("div", { class: "section" }, standing(one));
  const again = async () => show(place, standing(await get(path)));
  const edit = { href: `#/alerts/settings/channels/${one.id}/edit`, text: text.change };
  const say = (/** @type {string} */ field, /** @type {any} */ value) =>
    field === "person_id"
      ? people.items.find((/** @type {any} */ who) => who.id === value)?.display_name
      : undefined;
  return page(
    { title: one.name, back: text.back },
    place,
    iMay("manage") && testPart(path, again),
    iMay("manage") && linkButton(edit),
    one.kind === "webhook" && secretPart(path),
    changesPart(path, undefined, say),
  );
}
