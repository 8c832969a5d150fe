/** How people are told when they are not here: channels, duty, times, mail, the watch outside. */

import { get } from "../net/api.js";
import { iMay, moment } from "../net/session.js";
import { KINDS, STATES, takesInWords } from "../logic/channels.js";
import { plural } from "../logic/numbers.js";
import { el } from "../parts/dom.js";
import { badge, empty, linkButton, page, rowLink, section } from "../parts/page.js";

const text = {
  title: "How people are told",
  lead: "Alerts stand on the first page by themselves. Here is who hears of them elsewhere.",
  back: { href: "#/alerts", text: "Alerts" },
  nobody: "Nobody is told when you are not here: no channel takes critical alerts.",
  unreachable: (/** @type {string} */ name) =>
    `No channel reaches ${name}, who is on duty now: others are told later.`,
  channels: "Channels",
  none: "There is no channel yet. One is a person’s mailbox or phone, or an address of the station.",
  add: { href: "#/alerts/settings/channels/new", text: "Add a channel" },
  own: "the station’s own",
  takes: (/** @type {any} */ one) => `${one.person_name ?? text.own}: ${takesInWords(one)}`,
  sent: (/** @type {string} */ when) => `last taken ${when}`,
  error: (/** @type {string} */ error) => `Last error: ${error}`,
  rest: "Everything else",
  duty: "Who is on duty",
  dutyNow: (/** @type {any} */ watch) =>
    watch.second
      ? `Now ${watch.on_duty.name}, second ${watch.second.name}`
      : `Now ${watch.on_duty.name}`,
  noDuty: "No rota: managers are told first",
  times: "Times and limits",
  timesNow: (/** @type {any} */ plan) =>
    `Summary at ${plan.digest_at}; straws out for ${plural(plan.straws_out_hours, "hour")} at most`,
  mail: "The mail server",
  mailNone: "Not set: no e-mail is sent",
  outside: "The outside watch",
  outsideSet: "Set: somebody notices when this machine is silent",
  outsideNone: "Not set: nobody notices when this machine is off",
  outsideFailing: "Not reached",
  summary: "The daily summary",
  summaryNext: (/** @type {string} */ when) => `Next on ${when}`,
};

/** @param {any} one */
function channelRow(one) {
  const state = STATES[one.state];
  return el(
    "li",
    {},
    rowLink({
      href: `#/alerts/settings/channels/${one.id}`,
      title: one.name,
      detail: [
        `${KINDS[one.kind]}, ${text.takes(one)}`,
        one.last_sent_at && [el("br"), text.sent(moment(one.last_sent_at))],
        one.last_error && [el("br"), text.error(one.last_error)],
      ],
      end: badge(state.word, state.kind),
    }),
  );
}

/** @param {any} watch @param {any} plan */
function rest(watch, plan) {
  const outside = watch.ping_failing_since
    ? text.outsideFailing
    : watch.outside_watch_set
      ? text.outsideSet
      : text.outsideNone;
  const rows = [
    ["duty", text.duty, watch.on_duty ? text.dutyNow(watch) : text.noDuty],
    ["times", text.times, text.timesNow(plan)],
    ["mail", text.mail, plan.mail_host ?? text.mailNone],
    ["summary", text.summary, text.summaryNext(moment(watch.next_digest_at))],
    ["outside", text.outside, outside],
  ];
  return el(
    "ul",
    { class: "rows" },
    rows.map(([name, title, detail]) =>
      el("li", {}, rowLink({ href: `#/alerts/settings/${name}`, title, detail })),
    ),
  );
}

/** @param {any} watch */
function gap(watch) {
  if (!watch.nobody_to_tell && !watch.duty_unreachable) return null;
  const words = watch.nobody_to_tell ? text.nobody : text.unreachable(watch.on_duty?.name ?? "");
  return el("p", { class: "notice notice-warn" }, words);
}

export default async function alertSettings() {
  const [channels, watch, plan] = await Promise.all([
    get("/alert-channels"),
    get("/alerts/watch"),
    get("/alert-settings"),
  ]);
  return page(
    { title: text.title, lead: text.lead, back: text.back },
    gap(watch),
    section(
      text.channels,
      channels.items.length
        ? el("ul", { class: "rows" }, channels.items.map(channelRow))
        : empty(text.none),
      iMay("manage") && linkButton(text.add),
    ),
    section(text.rest, rest(watch, plan)),
  );
}
