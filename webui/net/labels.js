/** Labels as the service draws them: where each picture and paper is, and recording a print. */

import { sendAct } from "./acts.js";
import { file, get, search } from "./api.js";

/** @typedef {"strip"|"flag"} StrawStyle */
/** @typedef {"goblet"|"canister"|"tank"} PlaceKind */

/** @param {string} code @param {{style: StrawStyle, dpi: number}} how */
export function strawPicture(code, how) {
  return `/labels/straws/${code}.png${search(how)}`;
}

/** @param {PlaceKind} kind @param {string} id @param {number} dpi */
export function platePicture(kind, id, dpi) {
  return `/labels/${kind}s/${id}.png${search({ dpi })}`;
}

/** The address of a paper, for a link. @param {string} path @param {Record<string, any>} [query] */
export function paper(path, query = {}) {
  return `/api/labels/${path}.pdf${search(query)}`;
}

/**
 * Record a print; answers where its paper is.
 * @param {string} form @param {Record<string, unknown>} body
 */
export async function recordPrint(form, body) {
  return (await sendAct(form, "/prints", body)).data;
}

/** @param {{batch_id?: string, code?: string}} of @param {string} [after] */
export function loadPrints(of, after) {
  return get(`/prints${search({ ...of, limit: 20, after })}`);
}

/** The walk card of a dose that is not booked yet. @param {any} body @returns {Promise<Blob>} */
export function walkCard(body) {
  return file("POST", "/labels/walk-cards", { body });
}
