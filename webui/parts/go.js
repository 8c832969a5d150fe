/** Going from screen to screen. */

/** @param {string} hash "#/bank" @param {{replace?: boolean}} [options] */
export function go(hash, { replace = false } = {}) {
  if (location.hash === hash) return refresh();
  if (replace) location.replace(hash);
  else location.hash = hash;
}

/** Draw the present screen anew. */
export function refresh() {
  window.dispatchEvent(new CustomEvent("rimebook:refresh"));
}
