/** Where goblets stand in a canister drawn from above: rings inside a circle, as large as fit. */

/** How many discs of radius r fit on a ring whose centres lie at distance d. @param {number} r @param {number} d */
function onRing(r, d) {
  if (d <= 0) return 1;
  if (d < r) return 0;
  return Math.floor(Math.PI / Math.asin(Math.min(1, r / d)) + 1e-9);
}

/** Ring distances and their room, outermost first. @param {number} r @param {number} radius */
function rings(r, radius) {
  const found = [];
  for (let d = radius - r; d > r * (1 - 1e-7); d -= 2 * r) found.push({ d, room: onRing(r, d) });
  const inner = found.length ? found[found.length - 1].d : radius;
  if (inner >= 2 * r * (1 - 1e-7)) found.push({ d: 0, room: 1 });
  return found;
}

/**
 * @param {number} count @param {number} radius of the canister
 * @returns {{r: number, places: {x: number, y: number}[]}} centred on 0,0; clockwise from the top
 */
export function packDiscs(count, radius) {
  if (count <= 0) return { r: radius, places: [] };
  if (count === 1) return { r: radius * 0.5, places: [{ x: 0, y: 0 }] };
  let low = 1;
  let high = radius / 2;
  for (let i = 0; i < 40; i += 1) {
    const r = (low + high) / 2;
    const room = rings(r, radius).reduce((sum, ring) => sum + ring.room, 0);
    if (room >= count) low = r;
    else high = r;
  }
  return { r: low, places: placesOn(rings(low, radius), count) };
}

/** @param {{d: number, room: number}[]} found @param {number} count */
function placesOn(found, count) {
  const places = [];
  let left = count;
  for (const ring of found) {
    const here = Math.min(left, ring.room);
    for (let i = 0; i < here; i += 1) {
      const angle = (2 * Math.PI * i) / here - Math.PI / 2;
      places.push({ x: ring.d * Math.cos(angle), y: ring.d * Math.sin(angle) });
    }
    left -= here;
  }
  return places;
}
