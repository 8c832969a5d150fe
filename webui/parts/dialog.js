/** Questions that have to be answered before going on: the browser's own dialog keeps the focus. */

import { el, freshId } from "./dom.js";

/**
 * @param {{title: string, body: import("./dom.js").Children, yes: string, no: string,
 *   danger?: boolean}} question
 * @returns {Promise<boolean>}
 */
export function ask({ title, body, yes, no, danger = false }) {
  return new Promise((resolve) => {
    const heading = el("h2", { id: freshId("dialog") }, title);
    const agree = el(
      "button",
      { type: "button", class: `button button-${danger ? "danger" : "primary"}` },
      yes,
    );
    const refuse = el("button", { type: "button", class: "button" }, no);
    const box = el(
      "dialog",
      { "aria-labelledby": heading.id },
      heading,
      body,
      el("div", { class: "dialog-ways" }, agree, refuse),
    );
    agree.addEventListener("click", () => box.close("yes"));
    refuse.addEventListener("click", () => box.close("no"));
    box.addEventListener("close", () => {
      box.remove();
      resolve(box.returnValue === "yes");
    });
    document.body.append(box);
    box.showModal();
  });
}

/**
 * A dialog that holds a form; `close` ends it.
 * @param {string} title @param {(close: () => void) => import("./dom.js").Children} body
 * @param {{closable?: boolean}} [options]
 * @returns {Promise<void>}
 */
export function dialog(title, body, { closable = true } = {}) {
  return new Promise((resolve) => {
    const heading = el("h2", { id: freshId("dialog") }, title);
    const box = el("dialog", { "aria-labelledby": heading.id }, heading);
    box.append(...[body(() => box.close())].flat(3).filter((one) => one instanceof Node));
    if (!closable) box.addEventListener("cancel", (event) => event.preventDefault());
    box.addEventListener("close", () => {
      box.remove();
      resolve();
    });
    document.body.append(box);
    box.showModal();
  });
}
