/** Who is signed in, and the station's own settings (its clocks above all). */

import { may } from "../logic/roles.js";
import { localDay, showMoment } from "../logic/times.js";
import { call, get } from "./api.js";
import { forgetAll } from "./keep.js";

/** @typedef {{id: string, username: string, display_name: string, role: string}} Person */
/**
 * @typedef {{name: string, time_zone: string, country?: string, approval_number?: string,
 *   days_in_store: number}} Station
 */

/** @type {{person: Person|null, station: Station|null, passwordNeeded: boolean}} */
const now = { person: null, station: null, passwordNeeded: false };

export function person() {
  return now.person;
}

/** @param {import("../logic/roles.js").Act} act */
export function iMay(act) {
  return now.person !== null && may(now.person.role, act);
}

export function stationName() {
  return now.station?.name || "";
}

export function zone() {
  return now.station?.time_zone || "UTC";
}

/** Days from collection until straws may leave, as the station asks for. */
export function daysInStore() {
  return now.station?.days_in_store ?? 0;
}

/** @param {string|null|undefined} iso */
export function moment(iso) {
  return showMoment(iso, zone());
}

export function today() {
  return localDay(new Date(), zone());
}

/** True for somebody who came in with a one-time code and has no password yet. */
export function passwordNeeded() {
  return now.passwordNeeded;
}

/** Ask the service who is signed in; null when nobody is, or not yet all the way. */
export async function loadSession() {
  now.passwordNeeded = false;
  try {
    now.person = await get("/session", { quiet: true });
  } catch (problem) {
    const { status, code } = /** @type {any} */ (problem);
    if (status !== 401 && code !== "password-needed") throw problem;
    now.passwordNeeded = code === "password-needed";
    now.person = null;
  }
  if (now.person) await loadStation();
  return now.person;
}

export async function loadStation() {
  now.station = await get("/station", { quiet: true });
  return now.station;
}

/**
 * @param {string} username @param {string} password
 * @returns {Promise<"in"|"set-password">}
 */
export async function signIn(username, password) {
  await call("POST", "/session", { body: { username, password }, quiet: true });
  return (await loadSession()) ? "in" : "set-password";
}

/** @param {string} password */
export async function setFirstPassword(password) {
  await call("POST", "/session/password", { body: { password }, quiet: true });
}

export async function signOut() {
  await call("DELETE", "/session", { quiet: true }).catch((problem) => {
    if (problem.status !== 401) throw problem;
  });
  now.person = null;
  forgetAll();
}
