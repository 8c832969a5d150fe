/**
 * Reading labels with the camera of a telephone, beside a field for codes. It stays on for one
 * label after the other. Where the browser gives no camera (a plain http address), a photo is taken
 * and sent instead.
 */

import { ownReader, readPicture } from "../net/pictures.js";
import { readCode } from "../logic/codes.js";
import * as sightings from "../logic/sightings.js";
import { el, show } from "./dom.js";
import { middle, whole } from "./frames.js";
import { inWords } from "./problem.js";

const text = {
  open: "Use the camera",
  stop: "Camera off",
  photo: "Take a photo of the label",
  light: "Light",
  view: "What the camera sees",
  hold: "Hold the symbol into the middle of the picture, about a hand’s width away.",
  wiped: "Nothing read yet. Nearer, more light, hold it flat; wipe off frost. Or type the nine signs.",
  reading: "Reading the photo …",
  foreign: "There is a symbol in the picture, but it is none of this bank’s codes.",
  paused: "The camera was switched off after two minutes without a label.",
  problems: /** @type {Record<string, string>} */ ({
    NotAllowedError:
      "The browser may not use the camera. Allow it beside the page’s address, or type the nine signs.",
    NotFoundError: "This device has no camera. Type the nine signs, or use a scanner.",
    NotReadableError: "Another program uses the camera. Close it, then try again.",
  }),
  failed: "The camera does not start. Type the nine signs, or use a scanner.",
  lost: "The camera has stopped. Switch it on again, or type the nine signs.",
  dark: "This light cannot be switched. Use a lamp.",
  noPhoto: "This photo cannot be opened. Take another one, or type the nine signs.",
};

/** Between two looks: of the browser's own reader, and of the service. */
const LOOK_MS = 150;
const ASK_MS = 300;
/** What went wrong is shown for at least so long. */
const TOLD_MS = 2000;
/** Without anything read: a word of help; off, for the battery. */
const HELP_MS = 8000;
const IDLE_MS = 120_000;
/** What the browser's own reader does not find in that time, the service is asked for. */
const ASK_AFTER_MS = 1000;
/** Without an answer for so long, the network counts as away; asked again when so long has gone. */
const PATIENCE_MS = 4000;
const AWAY_MS = 10_000;
/** What is sent to the service, longer side in dots: of a camera that goes on, and of one photo. */
const LONGEST = 1280;
const LONGEST_PHOTO = 2560;

/** One camera is on at a time: some devices give no second. @type {(() => void)|null} */
let offNow = null;

/** @typedef {(code: string, kind: string) => void} Got */

/** @param {Got} got @returns {{button: Node, panel: HTMLElement}} */
export function camera(got) {
  const panel = el("div", { class: "camera", hidden: true });
  const button = navigator.mediaDevices ? liveButton(panel, got) : photoButton(panel, got);
  return { button, panel };
}

/** @param {HTMLElement} panel @param {Got} got */
function liveButton(panel, got) {
  const button = el("button", { type: "button", class: "button camera-open" }, text.open);
  /** @type {(() => void)|null} */
  let stop = null;
  const off = (/** @type {string} */ why) => {
    if (offNow === stop) offNow = null;
    stop = null;
    button.textContent = text.open;
    panel.hidden = !why;
    show(panel, why && el("p", { class: "notice", role: "status" }, why));
  };
  button.addEventListener("click", async () => {
    if (stop) return stop();
    button.disabled = true;
    offNow?.();
    try {
      stop = await live(panel, got, off);
      offNow = stop;
      if (stop) button.textContent = text.stop;
    } catch (problem) {
      off(text.problems[/** @type {Error} */ (problem).name] ?? text.failed);
      const photo = el("div", { class: "camera", hidden: true });
      panel.append(photoButton(photo, got), photo);
    }
    button.disabled = false;
    return undefined;
  });
  return button;
}

/**
 * The camera on; resolves to what switches it off, null where it went off meanwhile.
 * @param {HTMLElement} panel @param {Got} got @param {(why: string) => void} off
 */
async function live(panel, got, off) {
  const stream = await navigator.mediaDevices.getUserMedia({
    video: { facingMode: "environment", width: { ideal: 1920 }, height: { ideal: 1080 } },
  });
  const video = el("video", { muted: true, playsinline: true, "aria-label": text.view });
  video.muted = true;
  video.srcObject = stream;
  const said = el("p", { class: "hint", "aria-live": "polite" }, text.hold);
  show(panel, video, said, lightButton(stream));
  panel.hidden = false;
  const leaving = new AbortController();
  const { signal } = leaving;
  const stop = (why = "") => {
    if (signal.aborted) return;
    leaving.abort();
    clearInterval(watch);
    for (const track of stream.getTracks()) track.stop();
    off(why);
  };
  const watch = setInterval(() => video.isConnected || stop(), LOOK_MS);
  for (const track of stream.getTracks())
    track.addEventListener("ended", () => stop(text.lost), { signal });
  document.addEventListener("visibilitychange", () => document.hidden && stop(), { signal });
  document.addEventListener("keydown", ({ key }) => key === "Escape" && stop(), { signal });
  try {
    await video.play();
  } catch (problem) {
    stop();
    throw problem;
  }
  look({ video, said, got, stop, signal });
  return signal.aborted ? null : () => stop();
}

/** @param {MediaStream} stream */
function lightButton(stream) {
  const [track] = stream.getVideoTracks();
  const able = /** @type {any} */ (track.getCapabilities?.() ?? {}).torch;
  if (!able) return null;
  const off = { type: "button", class: "button", "aria-pressed": "false" };
  const button = el("button", off, text.light);
  button.addEventListener("click", async () => {
    const on = button.getAttribute("aria-pressed") !== "true";
    try {
      await track.applyConstraints(/** @type {any} */ ({ advanced: [{ torch: on }] }));
      button.setAttribute("aria-pressed", String(on));
    } catch {
      button.replaceWith(el("p", { class: "hint" }, text.dark));
    }
  });
  return button;
}

/**
 * Looks until it is stopped.
 * @param {{video: HTMLVideoElement, said: HTMLElement, got: Got, stop: (why?: string) => void,
 *   signal: AbortSignal}} at
 */
async function look({ video, said, got, stop, signal }) {
  const codesNow = eyes(video, await ownReader(), signal);
  /** @type {sightings.Sightings} */
  let seen = new Map();
  let last = performance.now();
  let toldUntil = 0;
  while (!signal.aborted) {
    const { codes, problem, wait } = await codesNow(performance.now() - last);
    if (signal.aborted) return;
    const now = performance.now();
    if (codes.length) last = now;
    if (problem) toldUntil = now + TOLD_MS;
    else {
      const sight = sightings.look(seen, codes.map((one) => one.code), now);
      seen = sight.sightings;
      for (const { code, kind } of codes) if (sight.fresh.includes(code)) got(code, kind);
    }
    if (now - last > IDLE_MS) return stop(text.paused);
    const hint = now - last > HELP_MS ? text.wiped : text.hold;
    const words = problem ?? (codes.length || now > toldUntil ? hint : said.textContent);
    if (words !== said.textContent) said.textContent = words;
    await new Promise((next) => setTimeout(next, wait));
  }
}

/** @typedef {Awaited<ReturnType<typeof ownReader>>} Reader */
/** @typedef {{codes: {code: string, kind: string}[], problem?: string, wait: number}} Look */

/**
 * One look at a time: with the browser's own reader; where that finds nothing for a moment, or
 * there is none, one picture is sent to the service, which tries harder.
 * @param {HTMLVideoElement} video @param {Reader} own @param {AbortSignal} signal
 * @returns {(idleMs: number) => Promise<Look>}
 */
function eyes(video, own, signal) {
  let reader = own;
  let turn = 0;
  let askAgainAt = 0;
  return async (idleMs) => {
    if (reader) {
      const codes = await ownCodes(reader, video);
      if (!codes) reader = null;
      const now = performance.now();
      if (codes?.length || (codes && (idleMs < ASK_AFTER_MS || now < askAgainAt)))
        return { codes, wait: LOOK_MS };
    }
    try {
      const codes = await askedCodes(video, signal, turn);
      askAgainAt = performance.now() + ASK_AFTER_MS;
      return { codes, wait: ASK_MS };
    } catch (problem) {
      turn += 1;
      const away = /** @type {any} */ (problem).status === 0;
      askAgainAt = performance.now() + (away ? AWAY_MS : ASK_AFTER_MS);
      // Where this device reads by itself, it can do without the network.
      const words = reader && away ? undefined : askedInWords(problem);
      return { codes: [], problem: words, wait: away ? TOLD_MS : ASK_MS };
    }
  };
}

/** @param {any} problem @returns {string|undefined} nothing of a picture without a symbol */
function askedInWords(problem) {
  if (problem.name === "AbortError" || problem.code === "nothing-read") return undefined;
  return problem.code === "misread-code" ? text.foreign : inWords(problem, "read").what;
}

/**
 * Null where it does not work after all.
 * @param {NonNullable<Reader>} reader @param {HTMLVideoElement} video
 */
async function ownCodes(reader, video) {
  try {
    const found = await reader.detect(video);
    return found.flatMap(({ rawValue }) => {
      const read = readCode(rawValue);
      return read.ok ? [read] : [];
    });
  } catch {
    return null;
  }
}

/**
 * All of the picture, for what is near, or its middle in full, for what is far; the other one when
 * nothing was read.
 * @param {HTMLVideoElement} video @param {AbortSignal} signal @param {number} turn
 */
async function askedCodes(video, signal, turn) {
  const source = { image: video, width: video.videoWidth, height: video.videoHeight };
  const picture = await (turn % 2 ? whole : middle)(source, LONGEST);
  return picture ? readPicture(picture, { signal, patienceMs: PATIENCE_MS }) : [];
}

/** @param {HTMLElement} panel @param {Got} got */
function photoButton(panel, got) {
  const input = el("input", {
    type: "file",
    accept: "image/*",
    capture: "environment",
    class: "camera-file",
  });
  const label = el("label", { class: "button camera-open" }, text.photo, input);
  const tell = (/** @type {string} */ words) => {
    panel.hidden = !words;
    show(panel, words && el("p", { class: "notice", "aria-live": "polite" }, words));
  };
  input.addEventListener("change", async () => {
    const [photo] = input.files ?? [];
    input.value = "";
    if (!photo) return;
    tell(text.reading);
    try {
      const codes = await photographed(photo);
      tell(codes.length ? "" : text.noPhoto);
      for (const one of codes) got(one.code, one.kind);
    } catch (problem) {
      tell(problem instanceof DOMException ? text.noPhoto : inWords(problem, "read").what);
    }
  });
  return label;
}

/** @param {File} photo */
async function photographed(photo) {
  const image = await createImageBitmap(photo);
  const picture = await whole({ image, width: image.width, height: image.height }, LONGEST_PHOTO);
  return picture ? readPicture(picture) : [];
}
