/** One goblet of the walk: what to take there, confirmed by count or by the codes read. */

import { get } from "../net/api.js";
import { keepTaking } from "../net/walks.js";
import { plural } from "../logic/numbers.js";
import * as walks from "../logic/walk.js";
import { shortCaution } from "./cautions.js";
import { codeText, el, show } from "./dom.js";
import { readCodeItem } from "./code_picker.js";
import { disclosure } from "./page.js";
import { scanField } from "./scan.js";
import { stepper } from "./stepper.js";
import { progress } from "./walk_list.js";

const text = {
  stepOf: (/** @type {number} */ at, /** @type {number} */ all) => `Goblet ${at} of ${all}`,
  take: (/** @type {number} */ straws) => `Take ${plural(straws, "straw")}`,
  batch: "batch ",
  colour: (/** @type {string} */ colour) => `${colour} straws`,
  have: (/** @type {number} */ straws) => `I have ${plural(straws, "straw")}`,
  haveNone: "There are none here",
  other: "A different number, or read the codes",
  howMany: "Straws I took here",
  scan: "Code of a straw in your hand",
  scanHint:
    "Scan it, or type the nine signs. Reading codes is not needed, but makes certain which straws left.",
  said: {
    planned: "That is one of them.",
    twin: "A twin of the same batch: as good.",
    again: "That one is read already.",
    full: "You have read as many as this step needs.",
    "not-a-straw": "That is a place or a batch, not a straw.",
    "wrong-stallion": (/** @type {string} */ name) =>
      `Wrong stallion: this straw is ${name}’s. Put it back at once.`,
    "other-batch": "Another batch than the plan says. Put it back, and take one of this batch.",
    gone: (/** @type {string} */ state) =>
      `The book has this straw as ${state}. Put it aside and tell somebody.`,
    offline:
      "No answer, so this code could not be looked up. Compare the straw with the batch code by eye.",
  },
};

/** @typedef {import("../net/walks.js").Taking} Taking */

/** @param {Taking} taking @param {string} code */
async function judge(taking, code) {
  const quick = walks.judgeCode(taking.walk, code);
  if (quick !== "look-up") return { verdict: quick, found: null };
  try {
    const found = await get(`/scan/${code}`);
    return { verdict: walks.judgeFound(taking.walk, found, taking.stallion_id), found };
  } catch (problem) {
    return {
      verdict: /** @type {any} */ (problem).status === 404 ? "unknown" : "offline",
      found: problem,
    };
  }
}

/** @param {string} verdict @param {any} found @returns {import("./scan.js").Said} */
function verdictInWords(verdict, found) {
  if (verdict === "planned" || verdict === "twin")
    return { kind: "done", text: text.said[verdict] };
  if (verdict === "wrong-stallion")
    return { kind: "refused", text: text.said["wrong-stallion"](found.stallion_name) };
  if (verdict === "gone") return { kind: "refused", text: text.said.gone(found.state) };
  if (verdict === "unknown") return { kind: "refused", text: found.message };
  const kind =
    verdict === "again" || verdict === "full" || verdict === "offline" ? "check" : "refused";
  return { kind, text: text.said[/** @type {"again"} */ (verdict)] };
}

/** @param {Taking} taking */
function stepFacts(taking) {
  const { walk } = taking;
  const step = walk.steps[walk.at];
  return el(
    "div",
    { class: "walk-step" },
    el("h2", { tabindex: "-1" }, text.stepOf(walk.at + 1, walk.steps.length)),
    el("p", { class: "walk-address" }, step.address),
    el("p", { class: "walk-count" }, text.take(step.straws)),
    el(
      "p",
      { class: "walk-facts" },
      taking.stallion_name,
      ", ",
      text.batch,
      codeText(step.batch_code),
      step.straw_colour && `, ${text.colour(step.straw_colour)}`,
    ),
  );
}

/**
 * Reading codes at a step; the walk with them is kept at once.
 * @param {Taking} taking @param {(walk: walks.Walk) => void} changed
 */
function stepCodes(taking, changed) {
  let { walk } = taking;
  const list = el("ul", { class: "codes" });
  const set = (/** @type {walks.Walk} */ next) => {
    walk = next;
    keepTaking({ ...taking, walk });
    const drop = (/** @type {string} */ code) => set(walks.dropCode(walk, code));
    show(
      list,
      walk.steps[walk.at].codes.map((code) => readCodeItem(code, () => drop(code))),
    );
    changed(walk);
  };
  const scan = scanField({
    label: text.scan,
    hint: text.scanHint,
    got: async (code) => {
      const { verdict, found } = await judge({ ...taking, walk }, code);
      // Another scan may have come in between.
      const now = walks.judgeCode(walk, code);
      if (now === "again" || now === "full") return verdictInWords(now, found);
      if (verdict === "planned" || verdict === "twin") set(walks.addCode(walk, code));
      return verdictInWords(verdict, found);
    },
  });
  set(walk);
  return { nodes: [scan.node, list], walk: () => walk };
}

/** One goblet. @param {Taking} taking @param {(walk: walks.Walk) => void} next */
export function stepView(taking, next) {
  const step = taking.walk.steps[taking.walk.at];
  const confirm = el("button", { type: "button", class: "button button-primary button-wide" });
  const name = (/** @type {number} */ straws) => {
    confirm.textContent = straws ? text.have(straws) : text.haveNone;
  };
  const most = step.straws;
  const count = stepper({ label: text.howMany, value: most, most, changed: name });
  const codes = stepCodes(taking, (walk) => {
    const seen = walk.steps[walk.at].codes.length;
    if (seen > count.value()) count.set(seen);
  });
  confirm.addEventListener("click", () => next(walks.confirmStep(codes.walk(), count.value())));
  name(most);
  const other = disclosure(text.other, count.node, codes.nodes);
  other.open = step.codes.length > 0;
  const parts = [progress(taking.walk), stepFacts(taking), shortCaution(), confirm, other];
  return el("div", { class: "form" }, parts);
}
