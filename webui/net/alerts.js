/** What stands, whether anybody watches, and taking care of an alert. */

import { asks } from "../logic/alerts.js";
import { sendAct } from "./acts.js";
import { all, get } from "./api.js";

const FRESH_MS = 120_000;

let known = { waiting: 0, at: 0 };

/** Every alert that is not over, and how the watch stands. */
export async function loadStanding() {
  const [alerts, watch] = await Promise.all([all("/alerts"), get("/alerts/watch?messages=0")]);
  known = { waiting: alerts.filter(asks).length, at: Date.now() };
  return { alerts, watch };
}

/** How many wait for somebody, as far as this was asked lately; else 0. */
export function waitingCount() {
  return Date.now() - known.at < FRESH_MS ? known.waiting : 0;
}

/** @param {string} id @param {Record<string, any>} [values] @returns {Promise<any>} the alert as it is then */
export async function takeCare(id, values = {}) {
  const { data } = await sendAct(`take-care:${id}`, `/alerts/${id}/acknowledge`, values);
  known.waiting = Math.max(0, known.waiting - 1);
  return data;
}
