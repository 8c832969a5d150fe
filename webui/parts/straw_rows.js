/** Straws one below the other, each with its code, where it came from and how sure the book is. */

import { codeText, el } from "./dom.js";
import { badge, plainRow } from "./page.js";

const text = { provisional: "by count" };

/**
 * @param {string} label @param {any[]} straws
 * @param {(one: any) => {detail: import("./dom.js").Children, said: import("./dom.js").Children}} tell
 */
export function strawRows(label, straws, tell) {
  const row = (/** @type {any} */ one) => {
    const { detail, said } = tell(one);
    return plainRow({
      title: one.code ? el("a", { href: `#/straws/${one.code}` }, codeText(one.code)) : codeText(null),
      detail,
      end: [said, one.provisional && [" ", badge(text.provisional, "warn")]],
    });
  };
  return el(
    "ul",
    { class: "rows", "aria-label": label },
    straws.map((one) => el("li", {}, row(one))),
  );
}
