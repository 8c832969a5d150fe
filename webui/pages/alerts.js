/** All alerts, by how they stand; several can be taken care of at once. */

import { sendAct } from "../net/acts.js";
import { all, get, search } from "../net/api.js";
import { iMay } from "../net/session.js";
import { asks, inOrder, titleOf } from "../logic/alerts.js";
import { link } from "../logic/routes.js";
import { plural } from "../logic/numbers.js";
import { priorityWord, sinceWhen, standsInWords } from "../parts/alert_row.js";
import { el, show } from "../parts/dom.js";
import { refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { empty, growingList, linkButton, page } from "../parts/page.js";
import { problemBox } from "../parts/problem.js";

const text = {
  title: "Alerts",
  filters: {
    "": "Not over",
    open: "Nobody yet",
    acknowledged: "Taken care of",
    "cleared-unseen": "Came and went",
    shelved: "Put aside",
    closed: "Over",
  },
  filter: "Which alerts",
  none: "There is none.",
  select: (/** @type {any} */ one) => `Choose: ${titleOf(one)}`,
  all: "Choose all of them",
  take: (/** @type {number} */ count) => `I take care of all of these: ${count}`,
  choose: "Choose those that you take care of",
  taken: (/** @type {number} */ count) => `You take care of ${plural(count, "alert")}.`,
  quality: { href: "#/alerts/quality", text: "How good are our alerts?" },
  settings: { href: "#/alerts/settings", text: "How people are told" },
};

/** So many open ones make it worth choosing. */
const FEW = 3;
const PAGE = 30;

/** @param {string} state */
function filters(state) {
  return el(
    "nav",
    { class: "spans", "aria-label": text.filter },
    Object.entries(text.filters).map(([value, words]) =>
      el(
        "a",
        {
          class: "button",
          href: link("/alerts", { state: value }),
          "aria-current": value === state ? "page" : null,
        },
        words,
      ),
    ),
  );
}

/** @param {any} alert */
function line(alert) {
  return el(
    "div",
    { class: "alert-line" },
    el("p", { class: "alert-head" }, priorityWord(alert)),
    el("a", { class: "row-title", href: `#/alerts/${alert.id}` }, titleOf(alert)),
    el("p", {}, alert.words),
    el("p", { class: "row-detail" }, `${sinceWhen(alert)}. ${standsInWords(alert)}`),
  );
}

/** The chosen ones and the bar that takes them. */
function choosing() {
  /** @type {Map<string, HTMLInputElement>} */
  const ticks = new Map();
  const chosen = () => [...ticks].filter(([, tick]) => tick.checked).map(([id]) => id);
  const take = el("button", { type: "button", class: "button button-primary", disabled: true });
  const every = el("button", { type: "button", class: "button" }, text.all);
  const said = el("div", {});
  const tell = () => {
    const count = chosen().length;
    take.disabled = !count;
    take.textContent = count ? text.take(count) : text.choose;
  };
  every.addEventListener("click", () => {
    for (const tick of ticks.values()) tick.checked = true;
    tell();
  });
  take.addEventListener("click", async () => {
    const ids = chosen();
    take.disabled = true;
    try {
      await sendAct(`take-several:${ids.join()}`, "/alerts/acknowledge", { ids });
      toast(text.taken(ids.length));
      refresh();
    } catch (problem) {
      show(said, problemBox(problem, "book"));
      tell();
    }
  });
  tell();
  return {
    bar: el("div", {}, said, el("div", { class: "pick-bar" }, every, take)),
    /** @param {any} alert */
    row(alert) {
      if (!asks(alert)) return line(alert);
      const tick = el("input", { type: "checkbox", "aria-label": text.select(alert) });
      tick.addEventListener("change", tell);
      ticks.set(alert.id, tick);
      return el(
        "div",
        { class: "alert-pick" },
        el("label", { class: "choice pick" }, tick),
        line(alert),
      );
    },
  };
}

/** @param {string} state */
async function enoughToChoose(state) {
  if (!iMay("book") || !["", "open"].includes(state)) return false;
  const open = await get(`/alerts${search({ state: "open", limit: FEW + 1 })}`);
  return open.items.length > FEW;
}

/**
 * Pages of the list. What is not over comes with the most pressing first, the rest as it happened.
 * @param {string} state
 * @returns {(after: string|undefined) => Promise<{items: any[], next?: string|null}>}
 */
function pagesOf(state) {
  if (state) return (after) => get(`/alerts${search({ state, limit: PAGE, after })}`);
  /** @type {any[]} */
  let standing = [];
  return async (after) => {
    if (!after) standing = inOrder(await all("/alerts"));
    const end = Number(after ?? 0) + PAGE;
    const next = end < standing.length ? String(end) : null;
    return { items: standing.slice(end - PAGE, end), next };
  };
}

/** @param {import("../parts/page.js").Context} context */
export default async function alerts({ query }) {
  const wanted = query.get("state") ?? "";
  const state = wanted in text.filters ? wanted : "";
  const several = (await enoughToChoose(state)) ? choosing() : null;
  const list = await growingList({
    label: text.title,
    none: empty(text.none),
    row: several?.row ?? line,
    load: pagesOf(state),
  });
  return page(
    { title: text.title },
    filters(state),
    list,
    several?.bar,
    el("p", { class: "ways" }, linkButton(text.settings), linkButton(text.quality)),
  );
}
