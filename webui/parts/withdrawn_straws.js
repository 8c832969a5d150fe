/** The straws of a withdrawal, and reading their codes off to make certain which they were. */

import { get } from "../net/api.js";
import { sendAct } from "../net/acts.js";
import { iMay } from "../net/session.js";
import { stateInWords } from "../logic/words.js";
import { codeText, el, show } from "./dom.js";
import { scanField } from "./scan.js";
import { strawRows } from "./straw_rows.js";

const text = {
  straws: "The straws",
  batch: "batch ",
  provisionalHint:
    "“By count” means that the number is right, but nobody has read which straw it was. Scan the straws in your hand to make it certain.",
  scan: "Code of a straw in your hand",
  identified: "That code is certain now.",
  exchanged: (/** @type {any} */ one) =>
    `You hold ${one.out}; the book had taken its twin ${one.in}. The two are exchanged.`,
};

/** @param {any} w */
export function withdrawnStraws(w) {
  const list = el("div", {}, strawList(w));
  const unsure = w.straws.some((/** @type {any} */ one) => one.provisional);
  return [list, iMay("book") && unsure && identify(w.id, (fresh) => show(list, strawList(fresh)))];
}

/** @param {any} w */
function strawList(w) {
  const mixed = w.thaw.length > 1;
  return strawRows(text.straws, w.straws, (one) => ({
    detail: [one.address, mixed && [" · ", text.batch, codeText(one.batch_code)]],
    said: stateInWords(one.state),
  }));
}

/** @param {string} id @param {(fresh: any) => void} changed */
function identify(id, changed) {
  const scan = scanField({
    label: text.scan,
    wanted: ["straw"],
    got: async (code) => {
      try {
        const body = { straw_codes: [code] };
        const { data } = await sendAct(
          `identify:${id}:${code}`,
          `/withdrawals/${id}/identify`,
          body,
        );
        changed(await get(`/withdrawals/${id}`));
        const [exchange] = data.exchanged;
        return { kind: "done", text: exchange ? text.exchanged(exchange) : text.identified };
      } catch (problem) {
        return { kind: "refused", text: /** @type {any} */ (problem).message };
      }
    },
  });
  return el("div", { class: "card no-print" }, el("p", {}, text.provisionalHint), scan.node);
}
