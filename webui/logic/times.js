/**
 * Times as people read them. Stored in UTC, shown in the station's own time zone with the zone's
 * name, months in letters: "3 Mar 2026, 14:05 CET" cannot be taken for the 4th of March.
 */

const MINUTE_MS = 60_000;

/** @param {Date} moment @param {string} zone */
function parts(moment, zone) {
  const format = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone,
    year: "numeric",
    month: "short",
    day: "numeric",
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
    timeZoneName: "short",
  });
  /** @type {Record<string, string>} */
  const found = {};
  for (const { type, value } of format.formatToParts(moment)) found[type] = value;
  return found;
}

/** @param {string|null|undefined} iso @param {string} zone */
export function showMoment(iso, zone) {
  if (!iso) return "–";
  const moment = new Date(iso);
  if (Number.isNaN(moment.getTime())) return String(iso);
  const p = parts(moment, zone);
  return `${p.day} ${shortMonth(p.month)} ${p.year}, ${p.hour}:${p.minute} ${p.timeZoneName}`;
}

/** "Sept" stands out of line in en-GB; three letters for every month. @param {string} name */
function shortMonth(name) {
  return name.slice(0, 3);
}

const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/** A date (not a moment): no zone can shift it. @param {string|null|undefined} isoDate */
export function showDay(isoDate) {
  const match = /^(\d{4})-(\d{2})-(\d{2})/.exec(isoDate ?? "");
  if (!match) return isoDate || "–";
  return `${Number(match[3])} ${MONTHS[Number(match[2]) - 1]} ${match[1]}`;
}

/** "Mar 2026". @param {string} isoDate */
export function showMonth(isoDate) {
  return `${MONTHS[Number(isoDate.slice(5, 7)) - 1]} ${isoDate.slice(0, 4)}`;
}

const WEEKDAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];

/** A day with its weekday: "Mon 14 Dec 2026". @param {string} isoDate */
export function showWeekday(isoDate) {
  return `${WEEKDAYS[new Date(`${isoDate}T00:00:00Z`).getUTCDay()]} ${showDay(isoDate)}`;
}

/** A day so many days later. @param {string} isoDate "2026-03-03" @param {number} days */
export function addDays(isoDate, days) {
  return new Date(Date.parse(`${isoDate}T00:00:00Z`) + days * 24 * 60 * MINUTE_MS)
    .toISOString()
    .slice(0, 10);
}

/** A day as a mark bears it. @param {string} isoDate @param {string} format such as "dd.mm.yy" */
export function markDay(isoDate, format) {
  const [year, month, day] = isoDate.split("-");
  return format.replace("dd", day).replace("mm", month).replace("yy", year.slice(2));
}

/** Minutes that the zone is ahead of UTC at that instant. @param {Date} moment @param {string} zone */
function offsetMinutes(moment, zone) {
  const local = wallClock(moment, zone);
  return Math.round(
    (Date.parse(`${local}Z`) - Math.floor(moment.getTime() / 1000) * 1000) / MINUTE_MS,
  );
}

/** @param {Date} moment @param {string} zone  "2026-03-03T14:05:07" on the zone's clocks */
function wallClock(moment, zone) {
  const format = new Intl.DateTimeFormat("sv-SE", {
    timeZone: zone,
    dateStyle: "short",
    timeStyle: "medium",
  });
  return format.format(moment).replace(" ", "T");
}

/**
 * The value of a date-and-time field for an instant, on the station's clocks.
 * @param {Date} moment @param {string} zone
 */
export function toLocalField(moment, zone) {
  return wallClock(moment, zone).slice(0, 16);
}

/** Today on the station's clocks, "2026-03-03". @param {Date} moment @param {string} zone */
export function localDay(moment, zone) {
  return wallClock(moment, zone).slice(0, 10);
}

/**
 * The instant that a date-and-time field means on the station's clocks, as RFC 3339 in UTC. In the
 * hour that comes twice in autumn the first is meant; a time that the spring change skips moves on.
 * @param {string} local "2026-03-03T14:05"
 * @param {string} zone
 * @returns {string|null}
 */
export function fromLocalField(local, zone) {
  const naive = Date.parse(`${local}:00Z`);
  if (!/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}$/.test(local) || Number.isNaN(naive)) return null;
  const offsets = [-1, 1].map((side) =>
    offsetMinutes(new Date(naive + side * 24 * 60 * MINUTE_MS), zone),
  );
  const candidates = offsets
    .map((offset) => new Date(naive - offset * MINUTE_MS))
    .filter((moment) => toLocalField(moment, zone) === local)
    .sort((a, b) => a.getTime() - b.getTime());
  const moment = candidates[0] ?? new Date(naive - offsets[0] * MINUTE_MS);
  return moment.toISOString().replace(".000Z", "Z");
}

/**
 * How long ago, in words, for things that should not last.
 * @param {string} iso @param {Date} now
 */
export function showAge(iso, now) {
  const minutes = Math.floor((now.getTime() - Date.parse(iso)) / MINUTE_MS);
  if (minutes < 1) return "less than a minute ago";
  if (minutes < 60) return `${minutes} min ago`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return `${hours} h ago`;
  return `${Math.floor(hours / 24)} days ago`;
}
