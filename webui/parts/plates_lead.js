/** Going from goblet to goblet of a stock-take by scanning their plates. */

import { all } from "../net/api.js";
import { go } from "./go.js";
import { note, onScan } from "./wedge.js";

const text = {
  notOne: "This goblet is not part of the stock-take.",
  plateOnly: "Scan the plate of a goblet: its count opens.",
};

/** @typedef {import("../logic/stock_takes.js").Goblet} Goblet */

/** Every goblet of the bank by the code on its plate, without what stands in it. */
export async function gobletsByPlate() {
  const tanks = await all("/tanks");
  const goblets = tanks.flatMap((tank) =>
    tank.canisters.flatMap((/** @type {any} */ one) => one.goblets),
  );
  return new Map(goblets.map((one) => [one.code, one]));
}

/**
 * A goblet's plate opens its count. Plates are known from the list of tanks: looking one up would
 * show what stands in it.
 * @param {any} take @param {AbortSignal} signal
 */
export function platesLead(take, signal) {
  onScan(signal, ({ code, kind, arrived, problem }) => {
    if (kind !== "goblet" || !code) {
      note({ kind: "refused", code, text: problem ? `“${arrived}”: ${problem}` : text.plateOnly });
      return true;
    }
    gobletsByPlate().then(
      (plates) => {
        const found = plates.get(code);
        const mine = take.goblets.some((/** @type {Goblet} */ one) => one.goblet_id === found?.id);
        if (mine) go(`#/stock-takes/${take.id}/count/${found.id}`);
        else note({ kind: "refused", code, facts: [found?.address], text: text.notOne });
      },
      (failed) => note({ kind: "refused", code, text: failed.message }),
    );
    return true;
  });
}
