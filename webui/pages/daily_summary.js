/** The daily summary: what it would say now, and sending it besides. */

import { sendAct } from "../net/acts.js";
import { get } from "../net/api.js";
import { iMay, moment } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { el } from "../parts/dom.js";
import { toast } from "../parts/live.js";
import { factList, page, section } from "../parts/page.js";

const text = {
  title: "The daily summary",
  lead: "It comes every day, also when all is well: one that does not come is a sign, too.",
  back: { href: "#/alerts/settings", text: "How people are told" },
  next: "Next one",
  last: "Last one",
  goes: "Goes to",
  nobody: "nobody: no channel takes it",
  now: "What it says now",
  send: "Send it now",
  sent: (/** @type {number} */ count) => `It goes to ${plural(count, "channel")} now.`,
  toNobody: "No channel takes the summary: nothing was sent.",
};

function sendButton() {
  const button = el("button", { type: "button", class: "button button-primary" }, text.send);
  button.addEventListener("click", async () => {
    button.disabled = true;
    try {
      const { data } = await sendAct("summary", "/alert-digest", {});
      if (data.channels) toast(text.sent(data.channels));
      else toast(text.toNobody, "check");
    } catch (problem) {
      toast(/** @type {any} */ (problem).message, "check");
    }
    button.disabled = false;
  });
  return button;
}

export default async function dailySummary() {
  const [letter, watch, channels] = await Promise.all([
    get("/alert-digest"),
    get("/alerts/watch"),
    get("/alert-channels"),
  ]);
  const taking = channels.items.filter((/** @type {any} */ one) => one.enabled && one.digest);
  return page(
    { title: text.title, lead: text.lead, back: text.back },
    factList([
      [text.next, moment(watch.next_digest_at)],
      [text.last, watch.last_digest_at && moment(watch.last_digest_at)],
      [text.goes, taking.map((/** @type {any} */ one) => one.name).join(", ") || text.nobody],
    ]),
    iMay("manage") && sendButton(),
    section(
      text.now,
      el("p", {}, el("strong", {}, letter.subject)),
      el("pre", { class: "letter" }, letter.text),
    ),
  );
}
