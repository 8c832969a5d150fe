/** A spreadsheet on its way in: looked at, booked, and how far that is. */

import { actId, forgetAct } from "./acts.js";
import { call, get } from "./api.js";

/** A file of 50,000 rows takes half a minute; a slow machine takes longer. */
const PATIENCE_MS = 300_000;
const ASKED_EVERY_MS = 700;

/** What the service reads at most. */
export const LARGEST_FILE_BYTES = 5_000_000;

/** The bytes of a file as text that JSON carries. @param {File} file @returns {Promise<string>} */
export async function inBase64(file) {
  const reader = new FileReader();
  return new Promise((resolve, reject) => {
    reader.addEventListener("error", () => reject(new Error("the file cannot be read")));
    reader.addEventListener("load", () =>
      resolve(String(reader.result).replace(/^data:[^,]*,?/, "")),
    );
    reader.readAsDataURL(file);
  });
}

/** @typedef {{name: string, content: string, mark: string}} Sheet  `mark` tells files apart */

/** @param {Sheet} sheet @param {Record<string, unknown>} answers */
export async function lookAt(sheet, answers) {
  const body = { content_base64: sheet.content, answers };
  return (await call("POST", "/imports/dry-run", { body, patienceMs: PATIENCE_MS })).data;
}

/**
 * Book it; `tell` hears how far it is until the answer is there.
 * @param {Sheet} sheet @param {Record<string, unknown>} answers
 * @param {(progress: {state: string, rows_done: number, rows: number}) => void} tell
 */
export async function bookAll(sheet, answers, tell) {
  const key = `import:${sheet.mark}:${JSON.stringify(answers)}`;
  const id = actId(key);
  const timer = setInterval(async () => {
    try {
      tell(await get(`/imports/${id}/progress`, { quiet: true }));
    } catch {
      /* it is asked again soon; the answer itself is what counts */
    }
  }, ASKED_EVERY_MS);
  try {
    const body = { id, content_base64: sheet.content, answers };
    const { data } = await call("POST", "/imports", { body, patienceMs: PATIENCE_MS });
    forgetAct(key);
    return data;
  } finally {
    clearInterval(timer);
  }
}
