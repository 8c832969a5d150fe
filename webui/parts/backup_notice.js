/** What is wrong with the backups, in a sentence: on their own page, and on the first for managers. */

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

/** Everything, on the page of the backups; null when all is well. @param {any} standing  what `GET /backups` answered */
export function backupNotice(standing) {
  const said = [];
  if (!standing.folder_set) said.push(text.notSet);
  else if (!standing.newest) said.push(text.never);
  else if (standing.overdue) said.push(text.overdue(moment(standing.overdue_since)));
  if (standing.last_failure) said.push(text.why(standing.last_failure.detail));
  return said.length ? notice(said.map((one) => el("p", {}, one))) : null;
}

/** On the first page: only what no alert tells of. @param {any} standing */
export function noFolderNotice(standing) {
  if (standing.folder_set) return null;
  return notice([el("p", {}, text.notSet), el("p", {}, el("a", { href: "#/backups" }, text.link))]);
}

/** @param {HTMLElement[]} lines */
function notice(lines) {
  return el("div", { class: "notice notice-warn", role: "status" }, lines);
}
