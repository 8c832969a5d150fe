/** Pictures of labels: read by this device where its browser can, else by the service. */

import { call } from "./api.js";

/** @typedef {{code: string, kind: string, found: any}} Seen */

/**
 * The codes in a picture. Throws a `Problem`: "nothing-read" when there is none.
 * @param {Blob} picture @param {{signal?: AbortSignal, patienceMs?: number}} [options]
 * @returns {Promise<Seen[]>}
 */
export async function readPicture(picture, options) {
  const answer = await call("POST", "/scan/picture", { ...options, body: picture });
  return answer.data.codes;
}

/**
 * The browser's own reader; null where it has none for both of our symbols.
 * @returns {Promise<{detect: (source: CanvasImageSource) => Promise<{rawValue: string}[]>}|null>}
 */
export async function ownReader() {
  const Detector = /** @type {any} */ (window).BarcodeDetector;
  if (!Detector) return null;
  try {
    const formats = await Detector.getSupportedFormats();
    if (!["qr_code", "data_matrix"].every((one) => formats.includes(one))) return null;
    return new Detector({ formats: ["qr_code", "data_matrix"] });
  } catch {
    return null;
  }
}
