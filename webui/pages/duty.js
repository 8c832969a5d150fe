/** Who is on duty: told first of whatever happens while nobody looks. */

import { all, call, get } from "../net/api.js";
import { iMay, moment } from "../net/session.js";
import { handoverInWords, inWeekOrder, standInInWords } from "../logic/duty.js";
import { changesPart } from "../parts/changes.js";
import { readVersion } from "../parts/conflict.js";
import { el } from "../parts/dom.js";
import { handoversField, standInsField } from "../parts/duty_fields.js";
import { form } from "../parts/form.js";
import { refresh } from "../parts/go.js";
import { toast } from "../parts/live.js";
import { empty, page, plainRow, section } from "../parts/page.js";

const text = {
  title: "Who is on duty",
  lead: "Whoever is on duty is told first. Of a critical alert the second hears after 15 minutes, managers after 30, then everybody.",
  back: { href: "#/alerts/settings", text: "How people are told" },
  now: (/** @type {any} */ shift) =>
    `Now on duty: ${names(shift)}, until ${moment(shift.ends_at)}.`,
  nobody: "There is no rota: managers are told first.",
  second: (/** @type {string} */ name) => `, second ${name}`,
  unknown: "somebody whose account is closed",
  handovers: "Weekly handovers",
  standIns: "Stand-ins",
  none: "none",
  coming: "The next two weeks",
  until: (/** @type {any} */ shift) => `${moment(shift.starts_at)} to ${moment(shift.ends_at)}`,
  rule: "Everybody in it has to have a channel of their own that takes critical alerts:",
  channels: { href: "#/alerts/settings", text: "the channels" },
  save: "Save the rota",
  saved: "Saved. It holds at once.",
};

const PATH = "/duty";

/** @param {any} shift */
function names(shift) {
  const second = shift.second_id ? text.second(shift.second_name ?? text.unknown) : "";
  return (shift.person_name ?? text.unknown) + second;
}

/** @param {any[]} shifts */
function coming(shifts) {
  return section(
    text.coming,
    shifts.length
      ? el(
          "ul",
          { class: "rows" },
          shifts.map((one) =>
            el("li", {}, plainRow({ title: names(one), detail: text.until(one) })),
          ),
        )
      : empty(text.nobody),
  );
}

/** @param {string} title @param {string[]} lines */
function lines(title, lines) {
  return section(
    title,
    lines.length
      ? el(
          "ul",
          {},
          lines.map((one) => el("li", {}, one)),
        )
      : el("p", {}, text.none),
  );
}

/** @param {{data: any, etag: string|null}} first @param {any[]} people @param {(id: string) => string} nameOf */
function rotaForm(first, people, nameOf) {
  const may = people.filter((one) => !one.disabled);
  const fields = [
    handoversField(first.data.handovers, may, nameOf),
    standInsField(first.data.stand_ins, may, nameOf),
  ];
  const record = readVersion({ path: PATH, first, fields, mine: (values) => values });
  const built = form({
    key: "duty",
    fields: () => fields,
    body: [
      el(
        "p",
        { class: "hint" },
        `${text.rule} `,
        el("a", { href: text.channels.href }, text.channels.text),
        ".",
      ),
      ...fields.map((one) => one.node),
    ],
    submit: text.save,
    send: async (values) => {
      await record.send(values);
      toast(text.saved);
      refresh();
    },
    refused: (problem) => record.refused(problem, built.said),
  });
  return built.node;
}

export default async function duty() {
  const [first, shifts, people] = await Promise.all([
    call("GET", PATH),
    get(`${PATH}/shifts`),
    all("/people"),
  ]);
  const known = new Map(people.map((one) => [one.id, one.display_name]));
  const nameOf = (/** @type {string} */ id) => known.get(id) ?? text.unknown;
  const handover = (/** @type {any} */ one) => handoverInWords(one, nameOf);
  const standIn = (/** @type {any} */ one) => standInInWords(one, nameOf, moment);
  const { handovers, stand_ins } = first.data;
  return page(
    { title: text.title, lead: text.lead, back: text.back },
    el("p", { class: "notice" }, shifts.items.length ? text.now(shifts.items[0]) : text.nobody),
    iMay("manage")
      ? rotaForm(first, people, nameOf)
      : [
          lines(text.handovers, inWeekOrder(handovers).map(handover)),
          lines(text.standIns, stand_ins.map(standIn)),
        ],
    coming(shifts.items),
    changesPart(
      PATH,
      undefined,
      (field, value) =>
        (value ?? []).map(field === "handovers" ? handover : standIn).join("; ") || text.none,
    ),
  );
}
