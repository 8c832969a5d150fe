/** Is the book safe from the loss of this machine: the backups that are there, and what to do. */

import { get } from "../net/api.js";
import { moment } from "../net/session.js";
import { showAge } from "../logic/times.js";
import { plural } from "../logic/numbers.js";
import { el } from "../parts/dom.js";
import { badge, empty, factList, page, section } from "../parts/page.js";
import { backupNotice } from "../parts/backup_notice.js";

const text = {
  title: "Backups",
  lead: "Each is a copy of the whole book, checked before it counts.",
  back: { href: "#/station", text: "The station" },
  made: "Automatic",
  every: (/** @type {number} */ hours) =>
    hours === 1 ? "every hour" : `every ${plural(hours, "hour")}`,
  notMade: "no",
  newest: "The newest",
  none: "none",
  age: (/** @type {string} */ when, /** @type {string} */ age) => `${when} (${age})`,
  entries: "Entries in it",
  head: "Its newest mark (head)",
  failed: "Last failure",
  list: "All that are kept",
  empty: "There is no backup that counts.",
  row: (/** @type {any} */ one) =>
    `${plural(one.entries, "entry", "entries")}, ${(one.bytes / 1_000_000).toFixed(1)} MB`,
  verified: "verified",
  keep: "Kept are the newest of each of the last 24 hours, 30 days and 12 months that have one.",
  restoreTitle: "When the machine is lost",
  restore:
    "On another machine with Rimebook installed, type this; it proves the backup before it makes a book of it:",
  command: "rimebook restore FOLDER-OF-BACKUPS --data NEW-FOLDER",
  drill: "To prove now that it would work, without changing anything:",
  drillCommand: "rimebook restore --drill FOLDER-OF-BACKUPS",
};

/** @param {any} one */
function row(one) {
  return el(
    "li",
    {},
    el(
      "div",
      { class: "row" },
      el(
        "span",
        { class: "row-text" },
        el("span", { class: "row-title" }, moment(one.created_at)),
        el("span", { class: "row-detail" }, text.row(one)),
        el("span", { class: "row-detail" }, one.file),
      ),
      el("span", { class: "row-end" }, badge(text.verified, "good")),
    ),
  );
}

export default async function backups() {
  const standing = await get("/backups");
  const { newest, last_failure: failed } = standing;
  return page(
    { title: text.title, lead: text.lead, back: text.back },
    backupNotice(standing),
    factList([
      [text.made, standing.folder_set ? text.every(standing.every_hours) : text.notMade],
      [
        text.newest,
        newest
          ? text.age(moment(newest.created_at), showAge(newest.created_at, new Date()))
          : text.none,
      ],
      [text.entries, newest && String(newest.entries)],
      [text.head, newest && el("span", { class: "code hash" }, newest.head)],
      [text.failed, failed && `${moment(failed.at)}: ${failed.detail}`],
    ]),
    section(
      text.list,
      standing.items.length
        ? el("ul", { class: "rows" }, standing.items.map(row))
        : empty(text.empty),
      el("p", { class: "hint" }, text.keep),
    ),
    section(
      text.restoreTitle,
      el("p", {}, text.restore),
      el("p", {}, el("code", { class: "command" }, text.command)),
      el("p", {}, text.drill),
      el("p", {}, el("code", { class: "command" }, text.drillCommand)),
    ),
  );
}
