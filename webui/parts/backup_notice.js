/** What is wrong with the backups, in a sentence: on the first page for managers, and on their own. */

import { moment } from "../net/session.js";
import { el } from "./dom.js";

const text = {
  never: "There is no backup of the book yet. Until there is one, a broken disk takes all of it.",
  overdue: (/** @type {string} */ when) =>
    `No backup was made in time: the next one was due before ${when}.`,
  notSet:
    "No automatic backup: no folder is named for it. Whoever looks after this machine sets RIMEBOOK_BACKUP_FOLDER, best on another disk.",
  why: (/** @type {string} */ detail) => `The last try failed: ${detail}`,
  link: "The backups",
};

/**
 * Null when all is well.
 * @param {any} standing  what `GET /backups` answered
 * @param {{link?: boolean}} [how]
 */
export function backupNotice(standing, { link = true } = {}) {
  const said = [];
  if (!standing.folder_set) said.push(text.notSet);
  else if (!standing.newest) said.push(text.never);
  else if (standing.overdue) said.push(text.overdue(moment(standing.overdue_since)));
  if (standing.last_failure) said.push(text.why(standing.last_failure.detail));
  if (!said.length) return null;
  return el(
    "div",
    { class: "notice notice-warn", role: "status" },
    said.map((one) => el("p", {}, one)),
    link && el("p", {}, el("a", { href: "#/backups" }, text.link)),
  );
}
