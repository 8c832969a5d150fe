/** The frame that every page has: a heading that takes the focus, a way back, what stands below. */

import { plural } from "../logic/numbers.js";
import { el, show } from "./dom.js";
import { problemBox } from "./problem.js";

/**
 * @typedef {object} Context
 * @property {Record<string, string>} params
 * @property {URLSearchParams} query
 * @property {AbortSignal} signal  aborted when the person leaves the page
 */

/**
 * @param {{title: string, lead?: import("./dom.js").Children, back?: {href: string, text: string},
 *   kind?: string}} frame `kind` is a class for the page's own style
 * @param {...import("./dom.js").Children} content
 */
export function page({ title, lead, back, kind = "" }, ...content) {
  document.title = `${title} · Rimebook`;
  return el(
    "article",
    { class: `page ${kind}` },
    back &&
      el(
        "a",
        { class: "back", href: back.href },
        el("span", { "aria-hidden": "true" }, "← "),
        back.text,
      ),
    el("h1", { tabindex: "-1" }, title),
    lead && el("p", { class: "lead" }, lead),
    ...content,
  );
}

/** @param {string} title @param {...import("./dom.js").Children} content */
export function section(title, ...content) {
  return el("section", { class: "section" }, el("h2", {}, title), ...content);
}

/** A short list of named facts; empty ones are left out. @param {[string, import("./dom.js").Children][]} facts */
export function factList(facts) {
  const shown = facts.filter(
    ([, value]) => value !== null && value !== undefined && value !== "" && value !== false,
  );
  return el(
    "dl",
    { class: "facts" },
    shown.map(([name, value]) => el("div", {}, el("dt", {}, name), el("dd", {}, value))),
  );
}

/**
 * When there is nothing: say so, and say what to do.
 * @param {string} text @param {{href: string, text: string}|null} [next]
 */
export function empty(text, next = null) {
  return el(
    "div",
    { class: "empty" },
    el("p", {}, text),
    next && el("a", { class: "button", href: next.href }, next.text),
  );
}

/** @param {{href: string, text: string, kind?: "primary"|"quiet"|"danger"}} target */
export function linkButton({ href, text, kind }) {
  return el("a", { class: `button ${kind ? `button-${kind}` : ""}`, href }, text);
}

/** @param {string} text @param {"plain"|"good"|"warn"|"bad"} [kind] */
export function badge(text, kind = "plain") {
  return el("span", { class: `badge badge-${kind}` }, text);
}

/** @param {string} title @param {...import("./dom.js").Children} content */
export function disclosure(title, ...content) {
  return el(
    "details",
    { class: "more" },
    el("summary", {}, title),
    el("div", { class: "more-body" }, ...content),
  );
}

/**
 * A disclosure whose body is made when it is first opened: it may be long, or ask the service.
 * @param {string} title
 * @param {() => import("./dom.js").Children|Promise<import("./dom.js").Children>} make
 */
export function later(title, make) {
  const node = disclosure(title);
  const body = /** @type {HTMLElement} */ (node.querySelector(".more-body"));
  let made = false;
  node.addEventListener("toggle", async () => {
    if (!node.open || made) return;
    made = true;
    try {
      show(body, await make());
    } catch (problem) {
      made = false;
      show(body, problemBox(problem));
    }
  });
  return node;
}

/**
 * A list that grows by pages: `load(after)` answers {items, next}.
 * @param {{load: (after: string|undefined) => Promise<{items: any[], next?: string|null}>,
 *   row: (item: any) => Node, none: Node, label: string}} list
 */
export async function growingList({ load, row, none, label }) {
  const first = await load(undefined);
  if (!first.items.length) return none;
  const rows = el(
    "ul",
    { class: "rows", "aria-label": label },
    first.items.map((item) => el("li", {}, row(item))),
  );
  const foot = el("div", { class: "list-foot" });
  const more = (/** @type {string|null|undefined} */ next) => {
    if (!next) return show(foot);
    const button = el("button", { type: "button", class: "button" }, "Show more");
    button.addEventListener("click", async () => {
      button.disabled = true;
      try {
        const page = await load(next);
        const added = page.items.map((item) => el("li", {}, row(item)));
        rows.append(...added);
        more(page.next);
        added[0]?.querySelector("a")?.focus();
      } catch {
        button.disabled = false;
        button.textContent = "No answer. Try again";
      }
    });
    show(foot, button);
  };
  more(first.next);
  return el("div", {}, rows, foot);
}

/** @typedef {{title: import("./dom.js").Children, detail?: import("./dom.js").Children,
 *   end?: import("./dom.js").Children}} Row  a title, a line below it, something at the right end */

/** @param {Row} row */
function rowBody({ title, detail, end }) {
  return [
    el(
      "span",
      { class: "row-text" },
      el("span", { class: "row-title" }, title),
      detail && el("span", { class: "row-detail" }, detail),
    ),
    end && el("span", { class: "row-end" }, end),
  ];
}

/** A whole-row link. @param {Row & {href: string, mark?: Node|null}} row */
export function rowLink({ href, mark, ...row }) {
  return el("a", { class: "row", href }, mark ?? null, rowBody(row));
}

/** A row that leads nowhere as a whole. @param {Row} row */
export function plainRow(row) {
  return el("div", { class: "row" }, rowBody(row));
}

/** @param {number} count */
export function straws(count) {
  return plural(count, "straw");
}
