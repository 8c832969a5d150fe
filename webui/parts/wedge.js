/**
 * One listener for hand-held scanners that act as keyboards, whatever page stands and whatever has
 * the focus. A scan goes to the scan field of the open dialog or page; else to whoever asked for
 * the page's scans; else it is looked up, and its page opened.
 */

import { get } from "../net/api.js";
import { deviceSetting, setDevice } from "../net/device.js";
import { person } from "../net/session.js";
import { misreadInWords } from "../logic/codes.js";
import * as wedges from "../logic/wedge.js";
import { el } from "./dom.js";
import { go } from "./go.js";
import { toast } from "./live.js";
import { inWords } from "./problem.js";
import { sayAloud, saidNode } from "./said.js";
import { unlockSound } from "./tones.js";

/** @typedef {import("../logic/wedge.js").Burst} Burst */
/** @typedef {import("./said.js").Said} Said */
/**
 * @typedef {object} Scan
 * @property {string} arrived  as it came, for people
 * @property {string} [code]   when the check passed
 * @property {string} [kind]
 * @property {string} [problem]  in words, when it did not
 */

const text = {
  layout:
    "The scanner’s keyboard language differs from this device’s. Its codes are read all the same. See Scanner set-up, under My account.",
  twoWays:
    "This can be read in two ways, because the scanner’s keyboard language differs from this device’s. Type the nine signs, and see Scanner set-up, under My account.",
  again: "The same code came twice in a moment. It counts once.",
  signIn: "Sign in first, then scan again.",
  dialog: "First answer what is asked here, then scan again.",
  misread: "Not read",
  open: "Open it",
  close: "Close",
};

const SHOWN_MS = 8000;
/** A note that is younger than this belongs to the page that is just opening. */
const NEW_MS = 1500;
/** A timer that comes so late says that the page was busy, not that the scanner was silent. */
const LATE_MS = 15;

let wedge = wedges.newWedge();
/** @type {{code: string, at: number}[]} */
let recent = [];
let silence = 0;
/** What the focused field held before the burst. @type {(() => void)|null} */
let putBack = null;

/** @type {WeakMap<Element, (scan: Scan) => void>} */
const fields = new WeakMap();
/** @typedef {(scan: Scan) => boolean|void} PageTake */
/** @type {PageTake[]} */
const pages = [];
/** @type {Set<(key: wedges.Key) => void>} */
const watchers = new Set();

/** Once, at the start of the app. */
export function startWedge() {
  window.addEventListener("keydown", onKey, true);
  window.addEventListener("pointerdown", unlockSound, { capture: true, once: true });
  window.addEventListener("hashchange", () => dropNotes(NEW_MS));
}

/**
 * A page that does something with codes; the latest one that asked is served.
 * @param {AbortSignal} signal @param {PageTake} take  false: not for this page
 */
export function onScan(signal, take) {
  pages.push(take);
  signal.addEventListener("abort", () => pages.splice(pages.indexOf(take), 1), { once: true });
}

/** An input for codes: scans come here while it is on the page. @param {HTMLInputElement} input @param {(scan: Scan) => void} take */
export function takesScans(input, take) {
  input.dataset.scan = "";
  fields.set(input, take);
}

/** Every key as it is struck, for the set-up page. @param {AbortSignal} signal @param {(key: wedges.Key) => void} watch */
export function onKeys(signal, watch) {
  watchers.add(watch);
  signal.addEventListener("abort", () => watchers.delete(watch), { once: true });
}

/** @returns {wedges.Where} */
function where() {
  return { prefix: deviceSetting("prefix"), field: kindOfField(document.activeElement) };
}

const NO_TEXT = ["button", "submit", "reset", "checkbox", "radio", "range", "color", "file"];

/** @param {Element|null} node @returns {wedges.Where["field"]} */
function kindOfField(node) {
  if (node instanceof HTMLTextAreaElement) return "text";
  if (!(node instanceof HTMLInputElement) || NO_TEXT.includes(node.type)) return "none";
  if (node.type === "password") return "secret";
  return fields.has(node) ? "scan" : "text";
}

/** @param {KeyboardEvent} event */
function onKey(event) {
  if (event.isComposing) return;
  /** @type {wedges.Key} */
  const key = {
    key: event.key,
    code: event.code,
    at: event.timeStamp,
    held: event.ctrlKey || event.altKey || event.metaKey,
    repeat: event.repeat,
  };
  for (const watch of watchers) watch(key);
  const now = wedges.press(wedge, key, where());
  // The first key of a burst has changed nothing yet.
  const begins = now.wedge.keys.length === 1 && now.wedge.keys[0] === key;
  wedge = now.wedge;
  if (now.swallow) {
    event.preventDefault();
    event.stopImmediatePropagation();
  }
  for (const burst of now.bursts) done(burst, putBack);
  if (begins) putBack = memoryOf(document.activeElement);
  window.clearTimeout(silence);
  if (wedge.keys.length) waitForSilence();
}

function waitForSilence() {
  const due = performance.now() + wedges.SILENCE_MS;
  silence = window.setTimeout(() => {
    // Keys may be waiting behind what kept the page busy: they come first.
    if (performance.now() - due > LATE_MS) return waitForSilence();
    const now = wedges.rest(wedge, performance.now() + 1, where());
    wedge = now.wedge;
    for (const burst of now.bursts) done(burst, putBack);
    if (wedge.keys.length) waitForSilence();
    return undefined;
  }, wedges.SILENCE_MS);
}

/** How to give a field back what it held. @param {Element|null} node @returns {(() => void)|null} */
function memoryOf(node) {
  if (node instanceof HTMLSelectElement) return memoryOfSelect(node);
  if (!(node instanceof HTMLInputElement || node instanceof HTMLTextAreaElement)) return null;
  if (node instanceof HTMLInputElement && NO_TEXT.includes(node.type)) return null;
  const { value, selectionStart, selectionEnd } = node;
  return () => {
    if (node.value === value && node.type !== "datetime-local" && node.type !== "date") return;
    node.value = value;
    if (selectionStart !== null) node.setSelectionRange(selectionStart, selectionEnd);
    node.dispatchEvent(new Event("input", { bubbles: true }));
  };
}

/** A list jumps to what begins with the letter. @param {HTMLSelectElement} node */
function memoryOfSelect(node) {
  const { value } = node;
  return () => {
    if (node.value === value) return;
    node.value = value;
    for (const name of ["input", "change"]) node.dispatchEvent(new Event(name, { bubbles: true }));
  };
}

/** @param {Burst} burst @param {(() => void)|null} restore */
function done(burst, restore) {
  const { read } = burst;
  const field = kindOfField(document.activeElement);
  if (!read.ok) {
    if (read.problem === "two-ways") {
      restore?.();
      deliver({ arrived: read.arrived, problem: text.twoWays });
    } else if (field === "none" && wedges.isScan(burst)) {
      // In a field it may be anything; a scan field says itself what is wrong with it.
      deliver({ arrived: read.arrived, problem: misreadInWords({ ok: false, problem: read.problem }) });
    }
    return;
  }
  restore?.();
  if (read.rescued) tellLayout();
  arrive({ arrived: read.arrived, code: read.code, kind: read.kind });
}

function tellLayout() {
  // The set-up page says it in its own words.
  if (deviceSetting("layoutTold") || watchers.size) return;
  setDevice("layoutTold", true);
  toast(text.layout, "check");
}

/** A code that was read, by scanner or camera: the same one twice in a moment counts once. @param {Scan & {code: string}} scan */
export function arrive(scan) {
  const seen = wedges.alreadyRead(recent, scan.code, performance.now());
  recent = seen.recent;
  if (seen.again) {
    sayAloud({ kind: "again", text: text.again });
    return;
  }
  deliver(scan);
}

/** To whoever takes scans now. @param {Scan} scan */
export function deliver(scan) {
  dropNotes();
  const dialog = [...document.querySelectorAll("dialog[open]")].at(-1);
  const take = fieldIn(dialog ?? document.body);
  if (take) take(scan);
  else if (dialog) note(refusal(scan, text.dialog), dialog);
  else if (!pages.length || pages.at(-1)?.(scan) === false) lookUp(scan);
}

/** @param {Element} room */
function fieldIn(room) {
  const focused = document.activeElement;
  if (focused && fields.has(focused)) return fields.get(focused);
  const open = [...room.querySelectorAll("input[data-scan]")].filter(
    (one) => !one.closest("[hidden]"),
  );
  const seen = open.find((one) => one.checkVisibility()) ?? open[0];
  let folded = seen?.closest("details") ?? null;
  while (folded) {
    folded.open = true;
    folded = folded.parentElement?.closest("details") ?? null;
  }
  return seen && fields.get(seen);
}

/** @param {Scan} scan @param {string} why @returns {Said} */
function refusal(scan, why) {
  return scan.code ? { kind: "refused", text: why, code: scan.code } : misread(scan);
}

/** What arrived, and what is wrong with it. @param {Scan} scan @returns {Said} */
export function misread(scan) {
  return { kind: "refused", word: text.misread, text: `“${scan.arrived}”: ${scan.problem}` };
}

let asked = 0;

/** @param {Scan} scan */
async function lookUp(scan) {
  if (!person()) return note(refusal(scan, text.signIn));
  if (!scan.code) return note(refusal(scan, ""));
  asked += 1;
  const mine = asked;
  // Somebody who is filling in a form is not taken away from it.
  const busy = [...document.querySelectorAll("main form.form")].some((one) => one.checkVisibility());
  try {
    const [found, { foundInWords, pageOf }] = await Promise.all([
      get(`/scan/${scan.code}`),
      import("./found.js"),
    ]);
    if (mine !== asked) return undefined; // the next scan has come: it opens its own page
    if (!busy) go(pageOf(found));
    return note(foundInWords(found), undefined, busy ? pageOf(found) : undefined);
  } catch (problem) {
    const { what } = inWords(problem, "read");
    return note({ kind: "refused", text: what, code: scan.code });
  }
}

/** A scan that has no place of its own is told over the page. @param {Said} said @param {Element} [room] @param {string} [href] */
export function note(said, room, href) {
  const place = document.getElementById("toasts");
  sayAloud(said);
  if (!place) return;
  const close = el("button", { type: "button", class: "button" }, text.close);
  const card = el(
    "div",
    { class: "scan-note" },
    saidNode(said),
    el(
      "div",
      { class: "scan-note-ways" },
      href && el("a", { class: "button button-primary", href }, text.open),
      close,
    ),
  );
  card.dataset.at = String(performance.now());
  const remove = () => card.remove();
  close.addEventListener("click", remove);
  card.querySelector("a")?.addEventListener("click", remove);
  (room ?? place).append(card);
  if (!href && said.kind !== "refused") setTimeout(remove, SHOWN_MS);
}

/** Notes of earlier scans go, when a new one comes or the page changes. @param {number} [older] milliseconds */
function dropNotes(older = 0) {
  for (const one of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll(".scan-note")))
    if (performance.now() - Number(one.dataset.at) >= older) one.remove();
}
