/**
 * Looking again by itself while the page is in sight. Nothing is drawn under somebody's hand: what
 * was fetched waits until nobody has touched, typed or scrolled for some seconds.
 */

const EVERY_MS = 30_000;
const QUIET_MS = 4000;
const HAND = ["pointerdown", "pointermove", "keydown", "wheel", "touchmove", "scroll"];

let touched = 0;
for (const name of HAND)
  window.addEventListener(name, () => (touched = Date.now()), { capture: true, passive: true });

/** @param {number} ms @param {AbortSignal} signal @returns {Promise<void>} */
function pause(ms, signal) {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, ms);
    signal.addEventListener("abort", () => {
      clearTimeout(timer);
      resolve();
    });
  });
}

/** Resolves when no hand is on the page. @param {AbortSignal} signal */
async function quiet(signal) {
  while (!signal.aborted && Date.now() - touched < QUIET_MS) await pause(500, signal);
}

/**
 * @template T
 * @param {AbortSignal} signal  aborted when the person leaves the page
 * @param {{load: () => Promise<T>, held?: (found: T) => void, draw: (found: T) => void,
 *   failed?: () => void}} work
 *   `held` may say that there is news while a hand is on the page; `draw` shows it
 */
export async function lookAgain(signal, { load, held, draw, failed }) {
  while (!signal.aborted) {
    await pause(EVERY_MS, signal);
    if (signal.aborted || document.visibilityState !== "visible") continue;
    try {
      const found = await load();
      if (signal.aborted) return;
      held?.(found);
      await quiet(signal);
      if (!signal.aborted) draw(found);
    } catch {
      if (!signal.aborted) failed?.();
    }
  }
}

/** Change what a node holds and leave the focus on what bears the same `data-stays`. @param {HTMLElement} node @param {() => void} change */
export function keepFocus(node, change) {
  const held = document.activeElement;
  const key = node.contains(held)
    ? held?.closest("[data-stays]")?.getAttribute("data-stays")
    : null;
  change();
  if (!key) return;
  const again = [...node.querySelectorAll("[data-stays]")].find(
    (one) => one.getAttribute("data-stays") === key,
  );
  /** @type {HTMLElement|undefined} */ (again)?.focus({ preventScroll: true });
}
