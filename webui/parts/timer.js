/**
 * The thaw timer: big digits, one step after the other, sound only when asked for. It runs on the
 * monotonic clock, keeps the screen awake where the device allows it, and goes on past zero so
 * that one sees by how much.
 */

import { clocksDisagree, countdown, stepInWords } from "../logic/countdown.js";
import { el } from "./dom.js";
import { announce } from "./live.js";

const text = {
  ready: (/** @type {any} */ step) => `Ready: ${stepInWords(step)}`,
  start: "Straw in the water: start",
  stop: "Straw out: stop",
  nextStep: "Into the next water: start",
  again: "Start again from the first step",
  running: (/** @type {any} */ step) => `${stepInWords(step)}: running`,
  over: "Time is up. Take it out now.",
  done: (/** @type {string} */ seconds) => `Stopped after ${seconds} s`,
  finished: "All steps done. Wipe the straw dry before you cut it.",
  soundOff: "Sound is off. Turn it on",
  soundOn: "Sound is on. Turn it off",
  slept: "This device slept in between: go by your own watch.",
};

/** @param {{water_c: number, seconds: number}[]} steps */
export function thawTimer(steps) {
  /** @type {{at: number, startedAt: number|null, wallAt: number, told: boolean, sound: boolean}} */
  const state = { at: 0, startedAt: null, wallAt: 0, told: false, sound: false };
  const view = timerView(steps, state);
  const awake = keepAwake();
  let ticking = 0;
  const tick = () => {
    if (!view.node.isConnected) return stop();
    drawRunning(view, steps, state);
    return undefined;
  };
  const start = () => {
    Object.assign(state, { startedAt: performance.now(), wallAt: Date.now(), told: false });
    view.main.textContent = text.stop;
    announce(text.running(steps[state.at]));
    awake.on();
    ticking = window.setInterval(tick, 100);
    tick();
  };
  const stop = () => {
    window.clearInterval(ticking);
    awake.off();
    state.startedAt = null;
  };
  view.main.addEventListener("click", () => {
    if (state.startedAt === null) return start();
    const seconds = ((performance.now() - state.startedAt) / 1000).toFixed(1);
    stop();
    endStep(view, steps, state, seconds);
    return undefined;
  });
  return view.node;
}

/** @param {{water_c: number, seconds: number}[]} steps @param {{sound: boolean}} state */
function timerView(steps, state) {
  const digits = el(
    "p",
    { class: "timer-digits", "aria-hidden": "true" },
    String(steps[0].seconds),
  );
  const words = el("p", { class: "timer-state" }, text.ready(steps[0]));
  const main = el("button", { type: "button", class: "button button-primary" }, text.start);
  const sound = el(
    "button",
    { type: "button", class: "button", "aria-pressed": "false" },
    text.soundOff,
  );
  sound.addEventListener("click", () => {
    state.sound = !state.sound;
    sound.setAttribute("aria-pressed", String(state.sound));
    sound.textContent = state.sound ? text.soundOn : text.soundOff;
    if (state.sound) beep();
  });
  const list = el(
    "ol",
    { class: "thaw-steps" },
    steps.map((step) => el("li", {}, stepInWords(step))),
  );
  const node = el(
    "div",
    { class: "timer", "data-state": "ready" },
    list,
    digits,
    words,
    main,
    sound,
  );
  markStep(list, 0);
  return { node, digits, words, main, list };
}

/** @param {HTMLElement} list @param {number} at */
function markStep(list, at) {
  [...list.children].forEach((item, i) => {
    if (i === at) item.setAttribute("aria-current", "step");
    else item.removeAttribute("aria-current");
  });
}

/** @param {ReturnType<typeof timerView>} view @param {any[]} steps @param {any} state */
function drawRunning(view, steps, state) {
  const elapsed = performance.now() - state.startedAt;
  const now = countdown(Number(steps[state.at].seconds), elapsed);
  view.digits.textContent = now.digits;
  view.node.dataset.state = now.state;
  const slept = clocksDisagree(elapsed, Date.now() - state.wallAt);
  view.words.textContent = slept
    ? text.slept
    : now.state === "over"
      ? text.over
      : text.running(steps[state.at]);
  if (now.state === "over" && !state.told) {
    state.told = true;
    announce(text.over);
    navigator.vibrate?.([200, 100, 200]);
    if (state.sound) beep();
  }
}

/** @param {ReturnType<typeof timerView>} view @param {any[]} steps @param {any} state @param {string} seconds */
function endStep(view, steps, state, seconds) {
  view.node.dataset.state = "ready";
  const last = state.at === steps.length - 1;
  state.at = last ? 0 : state.at + 1;
  markStep(view.list, state.at);
  view.digits.textContent = String(steps[state.at].seconds);
  view.words.textContent = `${text.done(seconds)}. ${last ? text.finished : text.ready(steps[state.at])}`;
  view.main.textContent = last ? text.again : text.nextStep;
  announce(view.words.textContent);
}

/** Keep the screen on while a step runs, where the device can. */
function keepAwake() {
  /** @type {any} */
  let lock = null;
  return {
    async on() {
      try {
        lock = await /** @type {any} */ (navigator).wakeLock?.request("screen");
      } catch {
        lock = null;
      }
    },
    off() {
      lock?.release?.().catch(() => {});
      lock = null;
    },
  };
}

/** @type {AudioContext|null} */
let audio = null;

function beep() {
  audio ??= new AudioContext();
  const tone = audio.createOscillator();
  const volume = audio.createGain();
  tone.frequency.value = 880;
  volume.gain.value = 0.25;
  tone.connect(volume).connect(audio.destination);
  tone.start();
  tone.stop(audio.currentTime + 0.45);
}
