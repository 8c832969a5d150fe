/** Addresses of the screens: "#/bank/tank/ID?batch=..." taken apart and put together. */

/** @typedef {{name: string, params: Record<string, string>, query: URLSearchParams}} Match */

/**
 * @param {string} hash
 * @param {Record<string, string>} routes pattern ("/bank/tank/:id") to page name
 * @returns {Match|null}
 */
export function matchRoute(hash, routes) {
  const [path, search = ""] = hash.replace(/^#/, "").split("?");
  const given = path.split("/").filter(Boolean);
  for (const [pattern, name] of Object.entries(routes)) {
    const params = matchPattern(pattern.split("/").filter(Boolean), given);
    if (params) return { name, params, query: new URLSearchParams(search) };
  }
  return null;
}

/** @param {string[]} wanted @param {string[]} given */
function matchPattern(wanted, given) {
  if (wanted.length !== given.length) return null;
  /** @type {Record<string, string>} */
  const params = {};
  for (let i = 0; i < wanted.length; i += 1) {
    if (wanted[i].startsWith(":")) params[wanted[i].slice(1)] = safeDecode(given[i]);
    else if (wanted[i] !== given[i]) return null;
  }
  return params;
}

/** @param {string} text */
function safeDecode(text) {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}

/**
 * @param {string} path
 * @param {Record<string, string|number|null|undefined>} [query] empty values are left out
 */
export function link(path, query = {}) {
  const search = new URLSearchParams();
  for (const [key, value] of Object.entries(query)) {
    if (value !== null && value !== undefined && value !== "") search.set(key, String(value));
  }
  const text = search.toString();
  return `#${path}${text ? `?${text}` : ""}`;
}

/** The page that was asked for before the sign-in. @param {URLSearchParams} query */
export function backFrom(query) {
  const back = query.get("to") ?? "";
  return back.startsWith("#/") ? back : "#/";
}
