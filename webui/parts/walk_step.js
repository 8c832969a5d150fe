/** One goblet of the walk: what to take there, confirmed by count or by the codes read. */

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
import { judge, verdictInWords } from "./walk_scan.js";

const text = {
  stepOf: (/** @type {number} */ at, /** @type {number} */ all) => `Goblet ${at} of ${all}`,
  take: (/** @type {number} */ straws) => `Take ${plural(straws, "straw")}`,
  batch: "batch ",
  colour: (/** @type {string} */ colour) => `${colour} straws`,
  have: (/** @type {number} */ straws, /** @type {number} */ seen) =>
    `I have ${plural(straws, "straw")}${seen ? ` (${seen}\u00a0read)` : ""}`,
  haveNone: "There are none here",
  allRead: (/** @type {number} */ straws) =>
    straws === 1 ? "It is read: go on" : `All ${straws} are read: go on`,
  other: "A different number",
  howMany: "Straws I took here",
  scan: "Scan each straw, or type its code",
  scanHint: "The goblet’s plate can be scanned too. Without codes, the number is booked.",
  read: (/** @type {number} */ seen, /** @type {number} */ straws) =>
    seen ? `${seen} of ${straws} read` : "",
};

/** @typedef {import("../net/walks.js").Taking} Taking */

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
 * @param {Taking} taking @param {() => void} changed
 * @param {(said: import("./said.js").Said) => void} goOn  the next goblet's plate was scanned
 */
function stepCodes(taking, changed, goOn) {
  let { walk } = taking;
  const list = el("ul", { class: "codes" });
  const count = el("p", { class: "walk-read" });
  const set = (/** @type {walks.Walk} */ next) => {
    walk = next;
    keepTaking({ ...taking, walk });
    const step = walk.steps[walk.at];
    const drop = (/** @type {string} */ code) => set(walks.dropCode(walk, code));
    count.textContent = text.read(step.codes.length, step.straws);
    show(
      list,
      step.codes.map((code) => readCodeItem(code, () => drop(code))),
    );
    changed();
  };
  const scan = scanField({
    label: text.scan,
    hint: text.scanHint,
    got: (code) => {
      const now = { ...taking, walk };
      const quick = walks.judgeCode(walk, code);
      if (quick === "look-up") return looked(now, code);
      if (quick === "planned") set(walks.addCode(walk, code));
      return verdictInWords({ verdict: quick }, now);
    },
  });
  const looked = async (/** @type {Taking} */ before, /** @type {string} */ code) => {
    const judged = await judge(before, code);
    // Other scans may have come in between.
    if (judged.verdict === "twin" || judged.verdict === "exchange") {
      const now = walks.judgeCode(walk, code);
      if (now === "again") judged.verdict = now;
      else if (walks.unread(walk) <= 0) judged.verdict = "full";
      else set(walks.addCode(walk, code));
    }
    const said = verdictInWords(judged, { ...taking, walk });
    if (judged.verdict !== "next") return said;
    goOn({ ...said, code });
    return null;
  };
  set(walk);
  return {
    node: el("div", { class: "walk-scan" }, scan.node, count, list),
    walk: () => walk,
    seen: () => walk.steps[walk.at].codes.length,
  };
}

/**
 * One goblet.
 * @param {Taking} taking
 * @param {(walk: walks.Walk, said?: import("./said.js").Said) => void} next
 *   `said`: what led on and is still to be told
 */
export function stepView(taking, next) {
  const step = taking.walk.steps[taking.walk.at];
  const confirm = el("button", {
    type: "button",
    class: "button button-primary button-wide walk-confirm",
  });
  const most = step.straws;
  const count = stepper({ label: text.howMany, value: most, most, changed: () => name() });
  /** @type {ReturnType<typeof stepCodes>|null} */
  let codes = null;
  // What was read is there, whatever number was set.
  const straws = () => Math.max(count.value(), codes?.seen() ?? 0);
  const name = () => {
    const seen = codes?.seen() ?? 0;
    const some = straws() === seen ? text.allRead(seen) : text.have(straws(), seen);
    confirm.textContent = straws() ? some : text.haveNone;
  };
  const done = (/** @type {import("./said.js").Said} */ said) =>
    codes && next(walks.confirmStep(codes.walk(), straws()), said);
  codes = stepCodes(taking, name, done);
  confirm.addEventListener("click", () => codes && next(walks.confirmStep(codes.walk(), straws())));
  name();
  const other = disclosure(text.other, count.node);
  const facts = [progress(taking.walk), stepFacts(taking), shortCaution()];
  return el("div", { class: "form" }, facts, codes.node, confirm, other);
}
