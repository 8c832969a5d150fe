/** Somebody else changed the record while this form was open: show both, keep the person's typing. */

import { call } from "../net/api.js";
import { changedFields, otherChanges } from "../logic/changes.js";
import { ruleInWords } from "../logic/doses.js";
import { el, show } from "./dom.js";
import { readFields } from "./form.js";
import { problemBox } from "./problem.js";

const text = {
  title: "Somebody else changed this record meanwhile. Yours is not saved yet.",
  none: "What they changed is not in this form.",
  line: (/** @type {string} */ label, /** @type {string} */ theirs, /** @type {string} */ mine) =>
    `${label}: theirs is ${theirs}, yours is ${mine}.`,
  then: "Change the form if theirs is right, then press the button again. Fields you did not touch keep their change.",
  empty: "empty",
};

/** @param {any} value */
function words(value) {
  if (value === null || value === undefined || value === "") return text.empty;
  return typeof value === "object"
    ? value.kind
      ? ruleInWords(value)
      : JSON.stringify(value)
    : `“${value}”`;
}

/** @param {any} value */
function rawOf(value) {
  return value === null || value === undefined ? "" : String(value);
}

/**
 * A record as it was read: how a change of it is sent, and what happens when it was another by then.
 * @param {{path: string, first: {data: any, etag: string|null},
 *   fields: import("./fields.js").Field[], mine: (values: any) => any}} record
 */
export function readVersion({ path, first, fields, mine }) {
  let { data: base, etag } = first;
  return {
    /** @param {any} values */
    send: (values) => call("PATCH", path, { body: changedFields(base, mine(values)), etag }),
    /** @param {any} problem @param {HTMLElement} place */
    refused: (problem, place) => {
      if (problem.status !== 412) return false;
      conflictBox({
        place,
        path,
        base,
        fields,
        mine,
        take: (fresh, tag) => {
          base = fresh;
          etag = tag;
        },
      });
      return true;
    },
  };
}

/**
 * @param {{place: HTMLElement, path: string, base: any, fields: import("./fields.js").Field[],
 *   mine: (values: any) => any, take: (fresh: any, etag: string|null) => void}} conflict
 */
async function conflictBox({ place, path, base, fields, mine, take }) {
  let answer;
  try {
    answer = await call("GET", path);
  } catch (problem) {
    show(place, problemBox(problem));
    return;
  }
  const typed = mine(readFields(fields, { quiet: true }).values);
  const changes = otherChanges(base, answer.data, typed);
  for (const change of changes) {
    const field = fields.find((one) => one.name === change.field);
    if (field && !change.clash && typeof change.theirs !== "object")
      field.setRaw(rawOf(change.theirs));
  }
  take(answer.data, answer.etag);
  const clashes = changes.filter((one) => one.clash);
  show(
    place,
    el(
      "div",
      { class: "problem", role: "alert" },
      el("p", { class: "problem-what" }, text.title),
      clashes.length
        ? el(
            "ul",
            {},
            clashes.map((one) =>
              el(
                "li",
                {},
                lineOf(fields, one),
              ),
            ),
          )
        : el("p", {}, text.none),
      el("p", {}, text.then),
    ),
  );
  place.focus();
}

/** A field of many rows says itself what stands in it. @param {import("./fields.js").Field[]} fields @param {{field: string, theirs: unknown, mine: unknown}} change */
function lineOf(fields, { field: name, theirs, mine }) {
  const field = fields.find((one) => one.name === name);
  const label = field?.node.querySelector("label, legend")?.firstChild?.textContent ?? name;
  const say = field?.inWords ?? words;
  return text.line(label.trim(), say(theirs), say(mine));
}
