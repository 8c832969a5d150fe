/**
 * How long the canister has been up: large seconds, a tone when it is long, and one button. It goes
 * by the wall clock that is kept with the count, so that a reload does not lose it.
 */

import { upState } from "../logic/counts.js";
import { el, show } from "./dom.js";
import { announce } from "./live.js";
import { sound } from "./tones.js";

const text = {
  lift: "Lift",
  liftHint: "Starts the seconds",
  again: "Lift again",
  lower: "Lowered",
  state: {
    up: "The canister is up.",
    soon: "Lower it soon. You can finish the count afterwards.",
    over: "Lower it now rather than hurry.",
  },
  down: (/** @type {number} */ seconds) =>
    `Lowered, up for ${Math.round(seconds)} s. Finish the count, or lift again.`,
  seconds: (/** @type {number} */ seconds) => `${seconds} s`,
};

/** @typedef {import("../logic/counts.js").GobletCount} GobletCount */

/**
 * @param {{count: () => GobletCount, lift: () => void, lower: () => void}} spec
 * @returns {{node: HTMLElement, draw: () => void}}
 */
export function liftClock(spec) {
  const digits = el("p", { class: "lift-digits", "aria-hidden": "true" });
  const words = el("p", { class: "lift-words" });
  const button = el("button", { type: "button", class: "button lift-button" });
  const node = el("div", { class: "lift" }, digits, words, button);
  /** @type {"up"|"soon"|"over"|""} */
  let told = "";
  let ticking = 0;
  const tick = () => {
    const { upSince } = spec.count();
    if (!upSince || (ticking && !node.isConnected)) return stop();
    const seconds = Math.max(0, Math.floor((Date.now() - Date.parse(upSince)) / 1000));
    const state = upState(seconds);
    show(digits, text.seconds(seconds));
    node.dataset.state = state;
    words.textContent = text.state[state];
    if (state !== told) {
      if (told && state !== "up") warn(state);
      told = state;
    }
    return undefined;
  };
  const stop = () => {
    window.clearInterval(ticking);
    ticking = 0;
    told = "";
  };
  const draw = () => {
    const { upSince, upSeconds, loweredAt, startedAt } = spec.count();
    show(button, upSince ? text.lower : loweredAt ? text.again : text.lift);
    button.classList.toggle("button-primary", Boolean(upSince) || !startedAt);
    if (upSince) {
      tick();
      ticking ||= window.setInterval(tick, 250);
      return;
    }
    stop();
    node.dataset.state = "down";
    show(digits, loweredAt ? text.seconds(Math.round(upSeconds)) : "");
    words.textContent = loweredAt ? text.down(upSeconds) : text.liftHint;
  };
  button.addEventListener("click", () => {
    const up = Boolean(spec.count().upSince);
    if (up) spec.lower();
    else spec.lift();
    draw();
    announce(up ? text.lower : text.state.up);
  });
  draw();
  return { node, draw };
}

/** @param {"soon"|"over"} state */
function warn(state) {
  announce(text.state[state]);
  sound(state === "over" ? "refused" : "check");
  if (state === "soon") navigator.vibrate?.([120, 80, 120]);
}

