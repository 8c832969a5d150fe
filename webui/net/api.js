/**
 * The one door to the service: JSON in and out, problems as one error class, versions of records.
 *
 * Every failure is a `Problem`: a refusal carries the service's own words and facts; no answer at
 * all has the code "no-answer", and then nothing may be taken as booked.
 */

const PATIENCE_MS = 20_000;

export class Problem extends Error {
  /**
   * @param {number} status 0 when there was no answer
   * @param {Record<string, any>} body problem+json, or the same shape made here
   */
  constructor(status, body) {
    super(body.detail || body.title || "Something went wrong.");
    this.status = status;
    this.code = body.code ?? "failed";
    this.title = body.title ?? "";
    this.facts = body;
    /** @type {{field: string, message: string}[]} */
    this.errors = Array.isArray(body.errors) ? body.errors : [];
  }

  /** True when it is not known whether the service took it: the same act may be sent again. */
  get unanswered() {
    return this.status === 0 || this.status >= 500;
  }
}

/** @typedef {{data: any, status: number, etag: string|null, replayed: boolean}} Answer */

/** @type {(() => Promise<boolean>)|null} */
let signInAgain = null;

/** What to do when the session has ended: resolves true once someone is signed in again. */
export function onSessionEnd(/** @type {() => Promise<boolean>} */ ask) {
  signInAgain = ask;
}

/** @param {Response} response */
async function bodyOf(response) {
  if (response.status === 204) return null;
  const type = response.headers.get("Content-Type") ?? "";
  if (!type.includes("json")) return null;
  try {
    return await response.json();
  } catch {
    return null;
  }
}

/** @param {Response} response @returns {Promise<Answer>} */
async function answerOf(response) {
  const body = await bodyOf(response);
  if (!response.ok) {
    const fallback = { title: "The station's computer could not do this.", code: "failed" };
    throw new Problem(response.status, body && typeof body === "object" ? body : fallback);
  }
  return {
    data: body,
    status: response.status,
    etag: response.headers.get("ETag"),
    replayed: response.headers.get("Replayed") === "true",
  };
}

/**
 * @param {string} path @param {RequestInit} init @param {number} patienceMs
 * @returns {Promise<Response>}
 */
async function reach(path, init, patienceMs) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), patienceMs);
  const leave = () => stop.abort();
  init.signal?.addEventListener("abort", leave);
  try {
    return await fetch(`/api${path}`, { ...init, signal: stop.signal });
  } catch (reason) {
    if (init.signal?.aborted) throw reason;
    throw new Problem(0, { code: "no-answer", title: "No answer from the station's computer." });
  } finally {
    clearTimeout(timer);
    init.signal?.removeEventListener("abort", leave);
  }
}

/**
 * @typedef {{body?: unknown, etag?: string|null, signal?: AbortSignal, quiet?: boolean,
 *   patienceMs?: number}} Options
 *   `quiet`: an ended session is an answer here, not a reason to ask for a password
 */

/** @param {string} method @param {string} path @param {Options & {accept?: string}} options */
async function respond(
  method,
  path,
  { body, etag, signal, quiet = false, patienceMs = PATIENCE_MS, accept = "application/json" },
) {
  /** @type {Record<string, string>} */
  const headers = { Accept: accept };
  const picture = body instanceof Blob;
  if (picture) headers["Content-Type"] = body.type;
  else if (body !== undefined || method !== "GET") headers["Content-Type"] = "application/json";
  if (etag) headers["If-Match"] = etag;
  const init = {
    method,
    headers,
    signal,
    body: body === undefined || picture ? body : JSON.stringify(body),
  };
  const response = await reach(path, init, patienceMs);
  if (response.status === 401 && !quiet && signInAgain && (await signInAgain())) {
    return reach(path, init, patienceMs);
  }
  return response;
}

/** @param {string} method @param {string} path @param {Options} [options] @returns {Promise<Answer>} */
export async function call(method, path, options = {}) {
  return answerOf(await respond(method, path, options));
}

/**
 * A picture or a paper instead of JSON.
 * @param {string} method @param {string} path @param {Options} [options] @returns {Promise<Blob>}
 */
export async function file(method, path, options = {}) {
  const response = await respond(method, path, { ...options, accept: "*/*" });
  if (!response.ok) await answerOf(response);
  return response.blob();
}

/** @param {string} path @param {{signal?: AbortSignal, quiet?: boolean}} [options] */
export async function get(path, options) {
  return (await call("GET", path, options)).data;
}

/** @param {string} path @param {unknown} body @param {{signal?: AbortSignal}} [options] */
export async function post(path, body, options) {
  return (await call("POST", path, { ...options, body })).data;
}

/**
 * A query string; empty values are left out.
 * @param {Record<string, string|number|null|undefined>} query
 */
export function search(query) {
  const wanted = Object.entries(query).filter(
    ([, value]) => value !== null && value !== undefined && value !== "",
  );
  return wanted.length ? `?${new URLSearchParams(wanted.map(([k, v]) => [k, String(v)]))}` : "";
}

/**
 * All items of a list, page by page, up to a limit that keeps a phone alive.
 * @param {string} path @param {Record<string, string|number|null|undefined>} [query]
 * @param {number} [most]
 * @returns {Promise<any[]>}
 */
export async function all(path, query = {}, most = 5000) {
  /** @type {any[]} */
  const items = [];
  let after;
  do {
    const page = await get(path + search({ ...query, limit: 1000, after }));
    items.push(...page.items);
    after = page.next;
  } while (after && items.length < most);
  return items;
}
