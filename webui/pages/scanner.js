/** Setting up a hand-held scanner: what arrives from it, key by key, and what to change on it. */

import { deviceSetting, setDevice } from "../net/device.js";
import { groupedCode, misreadInWords } from "../logic/codes.js";
import { describe, onlyModifier } from "../logic/wedge.js";
import { el, show } from "../parts/dom.js";
import { tickField } from "../parts/fields.js";
import { announce, toast } from "../parts/live.js";
import { page, section } from "../parts/page.js";
import { sound, soundWorks, unlockSound } from "../parts/tones.js";
import { onKeys, onScan } from "../parts/wedge.js";

const text = {
  title: "Scanner set-up",
  lead: "For a hand-held scanner that acts as a keyboard. Scan any code of the bank now: a straw, a plate.",
  back: { href: "#/account", text: "My account" },
  waiting: "Nothing has arrived yet. Scan a code while this page is open; no field is needed.",
  arrived: "What arrived",
  keysLabel: "Keys, one after the other",
  afterMs: (/** @type {number} */ ms) => `+${ms} ms`,
  right: (/** @type {string} */ code, /** @type {string} */ kind) =>
    `${groupedCode(code)}: the code of a ${kind}. Its check is right.`,
  wrong: (/** @type {string} */ arrived, /** @type {string} */ why) => `“${arrived}”: ${why}`,
  twoWays:
    "This can be read in two ways. Set the scanner’s keyboard language to that of this device.",
  rescued: (/** @type {string} */ arrived) =>
    `The scanner’s keyboard language differs from this device’s: “${arrived}” arrived. The code is read all the same, by which keys they were. Better set the scanner to the language of this device.`,
  sameLanguage: "The scanner’s keyboard language fits this device.",
  fast: (/** @type {number} */ ms) => `Fast enough: at most ${ms} ms between two keys.`,
  slow: (/** @type {number} */ ms) =>
    `Too slow: up to ${ms} ms between two keys. That looks like a person typing. Set the scanner’s delay between characters below 40 ms, or to none.`,
  ending: {
    enter: "It ends with Enter.",
    tab: "It ends with Tab.",
    silence: "It ends with no key. That works; with Enter at the end it is a moment faster.",
  },
  held: "Keys came with Alt or Ctrl held. Switch off sending characters as Alt and a number, and control characters.",
  lower: "Small letters arrive: Caps Lock may be on, or the scanner changes case. Codes are read in any case.",
  prefix: (/** @type {string} */ signs) => `It sends “${signs}” before each code.`,
  takeOff: (/** @type {string} */ signs) => `Leave “${signs}” out from now on`,
  prefixSet: (/** @type {string} */ signs) => `“${signs}” before a code is left out on this device.`,
  prefixKeep: "Leave nothing out",
  prefixDone: "From now on these signs are left out before a code.",
  set: "What to set on the scanner",
  setHint: "Its booklet has a code to scan for each of these.",
  settings: [
    "Acts as a keyboard (often called keyboard wedge or HID keyboard).",
    "Keyboard language: the one of this device.",
    "After each code: Enter. Tab or nothing works too.",
    "Before each code: nothing.",
    "Letters as they are; no change of case. Caps Lock off.",
    "Delay between characters: none, or as short as it goes.",
    "Reads QR codes and Data Matrix. On straws it has to read symbols a few millimetres high.",
  ],
  sounds: "Sounds",
  soundsHint: "Each outcome has a tone of its own. Try them at the tank, with the noise there.",
  soundOn: "Sound on this device",
  tones: /** @type {const} */ ({
    done: "Done",
    check: "Check this",
    refused: "Stop",
    again: "Same code twice",
  }),
  silent:
    "This browser holds sound back, or this device has none. The words, signs and colours say the same.",
};

/** The names of keys that leave no sign. @type {Record<string, string>} */
const KEY_NAMES = { " ": "Space", Enter: "Enter", Tab: "Tab", Dead: "Accent key" };

/** So long after the last key the next one begins anew. */
const ANEW_MS = 700;

/** @param {import("../logic/wedge.js").Key[]} keys */
function keyList(keys) {
  return el(
    "ol",
    { class: "keys", "aria-label": text.keysLabel },
    keys.map((one, i) =>
      el(
        "li",
        {},
        el("span", {}, KEY_NAMES[one.key] ?? one.key),
        i > 0 &&
          el("span", { class: "gap" }, text.afterMs(Math.round(one.at - keys[i - 1].at))),
      ),
    ),
  );
}

/** What to say of it, the good and the rest. @param {import("../logic/wedge.js").Key[]} keys @returns {{good: boolean, words: string}[]} */
function verdicts(keys) {
  const found = describe(keys, { prefix: deviceSetting("prefix") });
  const { read } = found;
  const wrong = (/** @type {any} */ no) =>
    no.problem === "two-ways" ? text.twoWays : text.wrong(no.arrived, misreadInWords(no));
  return [
    read.ok
      ? { good: true, words: text.right(read.code, read.kind) }
      : { good: false, words: wrong(read) },
    ...(read.ok
      ? [
          read.rescued
            ? { good: false, words: text.rescued(read.arrived) }
            : { good: true, words: text.sameLanguage },
        ]
      : []),
    found.fast
      ? { good: true, words: text.fast(found.slowest_ms) }
      : { good: false, words: text.slow(found.slowest_ms) },
    { good: true, words: text.ending[found.ending] },
    ...(found.held ? [{ good: false, words: text.held }] : []),
    ...(found.lower && !(read.ok && read.rescued) ? [{ good: false, words: text.lower }] : []),
  ];
}

/** @param {import("../logic/wedge.js").Key[]} keys @param {() => void} changed @returns {import("../parts/dom.js").Children[]} */
function answer(keys, changed) {
  const { prefix } = describe(keys, { prefix: deviceSetting("prefix") });
  const all = verdicts(keys);
  announce(all[0].words);
  return [
    keyList(keys),
    el(
      "ul",
      { class: "verdicts" },
      all.map(({ good, words }) =>
        el(
          "li",
          { class: good ? "verdict-good" : "verdict-bad" },
          el("span", { "aria-hidden": "true" }, good ? "✓ " : "? "),
          words,
        ),
      ),
    ),
    prefix && el("p", {}, text.prefix(prefix)),
    prefix && prefixButton(text.takeOff(prefix), prefix, changed),
  ];
}

/** @param {string} words @param {string} prefix @param {() => void} changed */
function prefixButton(words, prefix, changed) {
  const button = el("button", { type: "button", class: "button" }, words);
  button.addEventListener("click", () => {
    setDevice("prefix", prefix);
    if (prefix) toast(text.prefixDone);
    changed();
  });
  return button;
}

function soundPart() {
  const silent = el("p", { class: "notice notice-warn", hidden: true }, text.silent);
  const on = tickField({ name: "sound", label: text.soundOn, value: deviceSetting("sound") ? "yes" : "" });
  const box = /** @type {HTMLInputElement} */ (on.node.querySelector("input"));
  box.checked = deviceSetting("sound");
  box.addEventListener("change", () => setDevice("sound", box.checked));
  const buttons = Object.entries(text.tones).map(([outcome, words]) => {
    const button = el("button", { type: "button", class: "button" }, words);
    button.addEventListener("click", () => {
      unlockSound();
      sound(/** @type {"done"} */ (outcome), { asked: true });
      setTimeout(() => {
        silent.hidden = soundWorks();
      }, 300);
    });
    return button;
  });
  return section(
    text.sounds,
    el("p", { class: "hint" }, text.soundsHint),
    on.node,
    el("div", { class: "ways" }, buttons),
    silent,
  );
}

/** @param {import("../parts/page.js").Context} context */
export default async function scannerPage({ signal }) {
  const place = el("div", { class: "form-part scanner-arrived" }, el("p", {}, text.waiting));
  const prefixPlace = el("div", { class: "ways" });
  /** @type {import("../logic/wedge.js").Key[]} */
  let keys = [];
  const drawPrefix = () => {
    const prefix = deviceSetting("prefix");
    show(
      prefixPlace,
      prefix && [
        el("p", {}, text.prefixSet(prefix)),
        prefixButton(text.prefixKeep, "", drawPrefix),
      ],
    );
  };
  let waiting = 0;
  onKeys(signal, (key) => {
    if (key.repeat || onlyModifier(key)) return;
    const last = keys.at(-1);
    const ended = last && ["Enter", "Tab"].includes(last.key) && key.key.length === 1;
    if (last && (ended || key.at - last.at > ANEW_MS)) keys = [];
    keys = [...keys, key].slice(-40);
    window.clearTimeout(waiting);
    waiting = window.setTimeout(() => {
      // A single key is somebody going about the page.
      if (keys.length > 2) show(place, ...answer(keys, drawPrefix));
    }, 250);
  });
  onScan(signal, () => {}); // what is scanned here is shown, and opens nothing
  drawPrefix();
  return page(
    { title: text.title, lead: text.lead, back: text.back },
    section(text.arrived, place, prefixPlace),
    section(
      text.set,
      el("p", { class: "hint" }, text.setHint),
      el(
        "ul",
        {},
        text.settings.map((one) => el("li", {}, one)),
      ),
    ),
    soundPart(),
  );
}
