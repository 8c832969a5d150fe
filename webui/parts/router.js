/** Shows the page that the address names, one at a time, and moves the focus to its heading. */

import { matchRoute } from "../logic/routes.js";
import { el, show } from "./dom.js";
import { page, empty } from "./page.js";
import { problemBox } from "./problem.js";

const text = {
  loading: "Fetching …",
  nothingHere: "There is no such page",
  home: { href: "#/", text: "Go to the first page" },
  failed: "This page could not be shown",
  again: "Try again",
};

/** @type {AbortController} */
let leaving = new AbortController();
let shown = "";

/**
 * @param {{routes: Record<string, string>, pages: Record<string, () => Promise<any>>,
 *   elsewhere: (match: import("../logic/routes.js").Match|null) => string|null, after: () => void}} app
 *   `elsewhere` gives the address to go to instead, or null
 */
export function startRouter(app) {
  const draw = () => drawPage(app);
  window.addEventListener("hashchange", draw);
  window.addEventListener("rimebook:refresh", draw);
  return draw();
}

/** @param {Parameters<typeof startRouter>[0]} app */
async function drawPage(app) {
  const match = matchRoute(location.hash || "#/", app.routes);
  const instead = app.elsewhere(match);
  if (instead) return location.replace(instead);
  leaving.abort();
  leaving = new AbortController();
  const { signal } = leaving;
  const main = /** @type {HTMLElement} */ (document.getElementById("main"));
  main.setAttribute("aria-busy", "true");
  const late = setTimeout(() => show(main, el("p", { class: "loading" }, text.loading)), 250);
  const content = await contentOf(app, match, signal);
  clearTimeout(late);
  if (signal.aborted) return undefined;
  show(main, content);
  main.removeAttribute("aria-busy");
  main.dataset.shown = location.hash || "#/";
  app.after();
  settle(main);
  return undefined;
}

/**
 * @param {Parameters<typeof startRouter>[0]} app
 * @param {import("../logic/routes.js").Match|null} match @param {AbortSignal} signal
 */
async function contentOf(app, match, signal) {
  if (!match) return page({ title: text.nothingHere }, empty("", text.home));
  try {
    const module = await app.pages[match.name]();
    return await module.default({ params: match.params, query: match.query, signal });
  } catch (problem) {
    if (signal.aborted) return "";
    const again = el("button", { type: "button", class: "button" }, text.again);
    again.addEventListener("click", () =>
      window.dispatchEvent(new CustomEvent("rimebook:refresh")),
    );
    return page({ title: text.failed }, problemBox(problem), again);
  }
}

/** A new page begins at its heading; the same page drawn anew stays where it is. @param {HTMLElement} main */
function settle(main) {
  const isNew = shown !== location.hash;
  shown = location.hash;
  const heading = main.querySelector("h1");
  if (isNew) window.scrollTo(0, 0);
  heading?.focus({ preventScroll: !isNew });
}
