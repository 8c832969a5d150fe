/** Pictures for the service out of a camera or a photo: as few dots as poor Wi-Fi asks for. */

import { el } from "./dom.js";

const QUALITY = 0.85;

/**
 * @typedef {object} Source
 * @property {CanvasImageSource} image
 * @property {number} width
 * @property {number} height
 */

/** All of it, its longer side no longer than that. @param {Source} source @param {number} longest */
export function whole(source, longest) {
  const scale = Math.min(1, longest / Math.max(source.width, source.height));
  return drawn(source, { width: source.width, height: source.height, scale });
}

/**
 * Its middle, dot by dot: a small symbol that is far away is lost when all of it is made smaller.
 * @param {Source} source @param {number} longest
 */
export function middle(source, longest) {
  const width = Math.min(source.width, longest);
  const height = Math.min(source.height, longest);
  return drawn(source, { width, height, scale: 1 });
}

/**
 * @param {Source} source @param {{width: number, height: number, scale: number}} part
 * @returns {Promise<Blob|null>}
 */
function drawn(source, { width, height, scale }) {
  const left = (source.width - width) / 2;
  const top = (source.height - height) / 2;
  const canvas = el("canvas", {
    width: Math.round(width * scale),
    height: Math.round(height * scale),
  });
  const pen = canvas.getContext("2d");
  pen?.drawImage(source.image, left, top, width, height, 0, 0, canvas.width, canvas.height);
  return new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
}
