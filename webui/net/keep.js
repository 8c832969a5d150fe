/**
 * What this tab remembers until it is closed or the person signs out: drafts of forms, ids of acts
 * that were not answered yet, a walk half done. Falls back to memory where storage is refused.
 */

/** @type {Map<string, string>} */
const memory = new Map();
const PREFIX = "rimebook:";

/** @param {string} key @returns {any} */
export function recall(key) {
  let text = memory.get(key) ?? null;
  try {
    text = sessionStorage.getItem(PREFIX + key) ?? text;
  } catch {
    /* storage is refused: memory has it */
  }
  try {
    return text === null ? null : JSON.parse(text);
  } catch {
    return null;
  }
}

/** @param {string} key @param {unknown} value */
export function keep(key, value) {
  const text = JSON.stringify(value);
  memory.set(key, text);
  try {
    sessionStorage.setItem(PREFIX + key, text);
  } catch {
    /* full or refused: memory has it */
  }
}

/** @param {string} key */
export function forget(key) {
  memory.delete(key);
  try {
    sessionStorage.removeItem(PREFIX + key);
  } catch {
    /* nothing kept there then */
  }
}

export function forgetAll() {
  memory.clear();
  try {
    for (const key of Object.keys(sessionStorage)) {
      if (key.startsWith(PREFIX)) sessionStorage.removeItem(key);
    }
  } catch {
    /* nothing kept there then */
  }
}
