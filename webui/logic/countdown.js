/** A thaw step running down, reckoned from a monotonic clock. It informs; it never ends a task. */

/**
 * @param {number} seconds of the step @param {number} elapsedMs since it was started
 * @returns {{digits: string, state: "running"|"over", leftSeconds: number}}
 */
export function countdown(seconds, elapsedMs) {
  const left = seconds - elapsedMs / 1000;
  if (left > 0) return { digits: String(Math.ceil(left)), state: "running", leftSeconds: left };
  return { digits: `+${Math.floor(-left)}`, state: "over", leftSeconds: left };
}

/**
 * True when the device slept: its wall clock ran on while the monotonic clock stood still.
 * @param {number} monotonicMs @param {number} wallMs
 */
export function clocksDisagree(monotonicMs, wallMs) {
  return Math.abs(wallMs - monotonicMs) > 1500;
}

/** @param {{water_c: number|string, seconds: number|string}} step */
export function stepInWords(step) {
  return `${step.water_c} °C water for ${step.seconds} s`;
}
