/**
 * What a scan sounds like: a tone of its own for each outcome, so that nobody has to look. Browsers
 * let a page sound only after somebody has touched it; the first tap or key unlocks it.
 */

import { deviceSetting } from "../net/device.js";

/** @typedef {"done"|"check"|"refused"|"again"} Outcome */

/** Hertz, when it begins and how long it lasts in seconds. @type {Record<Outcome, {wave: OscillatorType, volume: number, notes: number[][]}>} */
const TONES = {
  done: { wave: "sine", volume: 0.25, notes: [[880, 0, 0.09], [1320, 0.09, 0.14]] },
  check: { wave: "triangle", volume: 0.35, notes: [[620, 0, 0.14], [620, 0.22, 0.14]] },
  refused: { wave: "square", volume: 0.22, notes: [[190, 0, 0.22], [150, 0.24, 0.5]] },
  again: { wave: "sine", volume: 0.1, notes: [[520, 0, 0.08]] },
};

/** @type {AudioContext|null} */
let audio = null;

/** Call on the first tap or key. */
export function unlockSound() {
  try {
    audio ??= new AudioContext();
    if (audio.state === "suspended") audio.resume().catch(() => {});
  } catch {
    audio = null; // a device without sound
  }
}

/** Whether a tone would be heard now, as far as the browser says. */
export function soundWorks() {
  return audio?.state === "running";
}

/** @param {Outcome} outcome @param {{asked?: boolean}} [options] `asked`: also when sound is off */
export function sound(outcome, { asked = false } = {}) {
  if (outcome === "refused") navigator.vibrate?.([180, 80, 180]);
  if (!asked && !deviceSetting("sound")) return;
  unlockSound();
  if (!audio) return;
  const { wave, volume, notes } = TONES[outcome];
  for (const [hertz, from, lasts] of notes) {
    const tone = audio.createOscillator();
    const level = audio.createGain();
    tone.type = wave;
    tone.frequency.value = hertz;
    level.gain.setValueAtTime(volume, audio.currentTime + from);
    level.gain.exponentialRampToValueAtTime(0.001, audio.currentTime + from + lasts);
    tone.connect(level).connect(audio.destination);
    tone.start(audio.currentTime + from);
    tone.stop(audio.currentTime + from + lasts);
  }
}
