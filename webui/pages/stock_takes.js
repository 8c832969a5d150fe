/** All stock-takes, the newest first. */

import { get, search } from "../net/api.js";
import { loadTanks } from "../net/bank.js";
import { iMay, moment } from "../net/session.js";
import { progressInWords, scopeInWords, takeStateInWords } from "../logic/stock_takes.js";
import { el } from "../parts/dom.js";
import { badge, empty, growingList, linkButton, page, rowLink } from "../parts/page.js";

/** @param {string} iso */
const day = (iso) => moment(iso).split(",")[0];

const text = {
  title: "Stock-takes",
  lead: "What stands in the tanks is counted and held against the book. Work goes on meanwhile.",
  open: { href: "#/stock-takes/new", text: "Open a stock-take", kind: /** @type {const} */ ("primary") },
  plan: { href: "#/stock-takes/plan", text: "Limits, and how often is counted" },
  room: { href: "#/reading-room", text: "Reading room" },
  none: "Nothing was counted yet. A manager or an auditor opens a stock-take.",
  opened: (/** @type {any} */ one) => `Opened on ${day(one.opened_at)} by ${one.opened_by}. `,
  closed: (/** @type {any} */ one) => `Closed on ${day(one.closed_at)} by ${one.closed_by}.`,
};

/** @type {Record<string, "plain"|"good"|"warn">} */
const KINDS = { counting: "warn", compared: "plain", closed: "good" };

/** @param {any} one @param {Map<string, string>} tanks */
function row(one, tanks) {
  return rowLink({
    href: `#/stock-takes/${one.id}`,
    title: scopeInWords(one.scope, one.goblets, (id) => tanks.get(id)),
    detail: [
      text.opened(one),
      one.closed_at ? text.closed(one) : `${progressInWords(one.counted, one.goblets)}.`,
    ],
    end: badge(takeStateInWords(one.state), KINDS[one.state]),
  });
}

export default async function stockTakes() {
  const tanks = new Map((await loadTanks()).map((one) => [one.id, one.name]));
  const list = await growingList({
    label: text.title,
    none: empty(text.none),
    row: (one) => row(one, tanks),
    load: (after) => get(`/stock-takes${search({ limit: 30, after })}`),
  });
  return page(
    { title: text.title, lead: text.lead },
    iMay("audit") && linkButton(text.open),
    list,
    el("p", { class: "ways" }, linkButton(text.room), linkButton(text.plan)),
  );
}
