/** A failure put into words that say what is the case and what to do now. */

import { el } from "./dom.js";

const text = {
  noAnswer:
    "No answer from the station's computer. Nothing counts as booked yet, and what you typed is kept.",
  retry:
    "Check the network and try again. The same act is never booked twice, however often it is sent.",
  fault:
    "The station's computer had a fault. Nothing counts as booked yet, and what you typed is kept.",
  noAnswerRead: "No answer from the station's computer. Check the network and try again.",
  faultRead:
    "The station's computer had a fault. Try again; if it goes on, tell whoever looks after it.",
  reused: "Your first try did arrive and is booked as you first sent it.",
  reusedDo:
    "Look at what is booked before you send this again; if it is really a further act, say so below.",
  forbidden: "Your role does not allow this. Ask a colleague whose role does.",
  tooOften: (/** @type {number} */ seconds) =>
    `Too many tries. Wait ${seconds} seconds and try again.`,
};

/**
 * @param {any} problem @param {"book"|"read"} [doing]
 * @returns {{what: string, then: string}}
 */
export function inWords(problem, doing = "book") {
  if (problem.status === 0) {
    return doing === "book"
      ? { what: text.noAnswer, then: text.retry }
      : { what: text.noAnswerRead, then: "" };
  }
  if (problem.status >= 500) {
    return doing === "book"
      ? { what: text.fault, then: text.retry }
      : { what: text.faultRead, then: "" };
  }
  if (problem.code === "id-reused") return { what: text.reused, then: text.reusedDo };
  if (problem.status === 429)
    return { what: text.tooOften(problem.facts?.retry_after_seconds ?? 60), then: "" };
  if (problem.status === 403 && !problem.facts?.detail) return { what: text.forbidden, then: "" };
  if (problem.status === undefined)
    return { what: `This screen had a fault: ${problem.message}`, then: "" };
  return { what: problem.message, then: "" };
}

/** @param {any} problem @param {"book"|"read"} [doing] */
export function problemBox(problem, doing = "read") {
  const { what, then } = inWords(problem, doing);
  return el(
    "div",
    { class: "problem", role: "alert" },
    el("p", { class: "problem-what" }, what),
    then && el("p", {}, then),
  );
}
