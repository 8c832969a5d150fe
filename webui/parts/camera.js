/**
 * Reading labels with the camera of a telephone, beside a field for codes. It stays on for one
 * label after the other. Where the browser gives no camera (a plain http address), a photo is taken
 * and sent instead.
 */

import { ownReader, readPicture } from "../net/pictures.js";
import { readCode } from "../logic/codes.js";
import { el, show } from "./dom.js";
import { inWords } from "./problem.js";

const text = {
  open: "Use the camera",
  stop: "Camera off",
  photo: "Take a photo of the label",
  light: "Light",
  view: "What the camera sees",
  hold: "Hold the symbol into the picture, about a hand’s width away.",
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
};

/** Between two looks; and how long a label has to be out of sight to count as a new one. */
const LOOK_MS = 150;
const ASK_MS = 300;
const AGAIN_MS = 2000;
/** Without anything read: a word of help; off, for the battery. */
const HELP_MS = 8000;
const IDLE_MS = 120_000;
/** What is sent to the service: the longer side in dots, and how well it is kept. */
const LONGEST = 1280;
const QUALITY = 0.85;

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
    stop = null;
    button.textContent = text.open;
    panel.hidden = !why;
    show(panel, why && el("p", { class: "notice" }, why));
  };
  button.addEventListener("click", async () => {
    if (stop) return stop();
    button.disabled = true;
    try {
      stop = await live(panel, got, off);
      button.textContent = text.stop;
    } catch (problem) {
      off(text.problems[/** @type {Error} */ (problem).name] ?? text.failed);
    }
    button.disabled = false;
    return undefined;
  });
  return button;
}

/**
 * The camera on; resolves to what switches it off.
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
  const stop = (why = "") => {
    leaving.abort();
    for (const track of stream.getTracks()) track.stop();
    document.removeEventListener("visibilitychange", hidden);
    off(why);
  };
  const hidden = () => document.hidden && stop();
  document.addEventListener("visibilitychange", hidden);
  await video.play();
  look({ video, said, got, stop, signal: leaving.signal });
  return () => stop();
}

/** @param {MediaStream} stream */
function lightButton(stream) {
  const [track] = stream.getVideoTracks();
  const able = /** @type {any} */ (track.getCapabilities?.() ?? {}).torch;
  if (!able) return null;
  const button = el("button", { type: "button", class: "button", "aria-pressed": "false" }, text.light);
  button.addEventListener("click", async () => {
    const on = button.getAttribute("aria-pressed") !== "true";
    await track.applyConstraints(/** @type {any} */ ({ advanced: [{ torch: on }] }));
    button.setAttribute("aria-pressed", String(on));
  });
  return button;
}

/**
 * Looks until it is stopped: with the browser's own reader, else one picture at a time is sent.
 * @param {{video: HTMLVideoElement, said: HTMLElement, got: Got, stop: (why?: string) => void,
 *   signal: AbortSignal}} at
 */
async function look({ video, said, got, stop, signal }) {
  const reader = await ownReader();
  const seen = labelsInSight();
  let last = performance.now();
  while (!signal.aborted) {
    if (!video.isConnected) return stop();
    const codes = await codesIn(video, reader, said, signal);
    for (const one of codes) {
      last = performance.now();
      if (seen(one.code, last)) got(one.code, one.kind);
    }
    if (codes.length) said.textContent = text.hold;
    else if (performance.now() - last > IDLE_MS) return stop(text.paused);
    else if (performance.now() - last > HELP_MS && !said.dataset.problem) said.textContent = text.wiped;
    await new Promise((next) => setTimeout(next, reader ? LOOK_MS : ASK_MS));
  }
  return undefined;
}

/** A label counts once for as long as it is in sight. */
function labelsInSight() {
  /** @type {Map<string, number>} */
  const sightings = new Map();
  return (/** @type {string} */ code, /** @type {number} */ now) => {
    const before = sightings.get(code);
    sightings.set(code, now);
    return before === undefined || now - before > AGAIN_MS;
  };
}

/** @typedef {Awaited<ReturnType<typeof ownReader>>} Reader */

/** @param {HTMLVideoElement} video @param {Reader} reader @param {HTMLElement} said @param {AbortSignal} signal */
async function codesIn(video, reader, said, signal) {
  try {
    const codes = reader ? await ownCodes(reader, video) : await askedCodes(video, signal);
    delete said.dataset.problem;
    return codes;
  } catch (problem) {
    if (signal.aborted) return [];
    const { code } = /** @type {any} */ (problem);
    if (code === "nothing-read") return [];
    said.dataset.problem = "true";
    said.textContent = code === "misread-code" ? text.foreign : inWords(problem, "read").what;
    return [];
  }
}

/** @param {NonNullable<Reader>} reader @param {HTMLVideoElement} video */
async function ownCodes(reader, video) {
  const found = await reader.detect(video);
  return found.flatMap(({ rawValue }) => {
    const read = readCode(rawValue);
    return read.ok ? [read] : [];
  });
}

/** @param {HTMLVideoElement} video @param {AbortSignal} signal */
async function askedCodes(video, signal) {
  const picture = await smaller(video, video.videoWidth, video.videoHeight);
  return picture ? readPicture(picture, signal) : [];
}

/**
 * A picture small enough for poor Wi-Fi.
 * @param {CanvasImageSource} source @param {number} width @param {number} height
 * @returns {Promise<Blob|null>}
 */
function smaller(source, width, height) {
  const scale = Math.min(1, LONGEST / Math.max(width, height));
  const canvas = el("canvas", { width: Math.round(width * scale), height: Math.round(height * scale) });
  canvas.getContext("2d")?.drawImage(source, 0, 0, canvas.width, canvas.height);
  return new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
}

/** @param {HTMLElement} panel @param {Got} got */
function photoButton(panel, got) {
  const input = el("input", { type: "file", accept: "image/*", capture: "environment", class: "camera-file" });
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
      const opened = await createImageBitmap(photo);
      const picture = await smaller(opened, opened.width, opened.height);
      const codes = picture ? await readPicture(picture) : [];
      tell("");
      for (const one of codes) got(one.code, one.kind);
    } catch (problem) {
      tell(inWords(problem, "read").what);
    }
  });
  return label;
}
