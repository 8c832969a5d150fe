/** What this device keeps for whoever uses it: sound on or off, how its scanner is set. No secrets. */

/** @type {Map<string, any>} */
const memory = new Map();
const PREFIX = "rimebook-device:";

/** @typedef {{sound: boolean, prefix: string, layoutTold: boolean}} Device */

/** @type {Device} */
const AT_FIRST = { sound: true, prefix: "", layoutTold: false };

/** @template {keyof Device} K @param {K} name @returns {Device[K]} */
export function deviceSetting(name) {
  if (memory.has(name)) return memory.get(name);
  try {
    const kept = localStorage.getItem(PREFIX + name);
    return kept === null ? AT_FIRST[name] : JSON.parse(kept);
  } catch {
    return AT_FIRST[name];
  }
}

/** @template {keyof Device} K @param {K} name @param {Device[K]} value */
export function setDevice(name, value) {
  memory.set(name, value);
  try {
    localStorage.setItem(PREFIX + name, JSON.stringify(value));
  } catch {
    /* storage is refused: it holds until the page is closed */
  }
}
