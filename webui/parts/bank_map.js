/** Tanks, canisters and goblets drawn: how full they are and whose straws stand in them. */

import { colourOf } from "../logic/marks.js";
import { packDiscs } from "../logic/discs.js";
import { showNumber } from "../logic/numbers.js";
import { el, svg } from "./dom.js";
import { markBadge, markShapes } from "./mark.js";

const RADIUS = 150;
const MOST_DRAWN = 26;

const text = {
  of: (/** @type {number} */ straws, /** @type {number} */ room) =>
    `${showNumber(straws)} of ${showNumber(room)} straws`,
  empty: "empty",
  upper: "Upper layer",
  lower: "Lower layer",
  only: "From above",
  goblet: (/** @type {any} */ goblet, /** @type {number} */ straws, /** @type {string} */ who) =>
    `Goblet ${goblet.address}: ${straws} of ${goblet.capacity_straws} straws${who ? `, ${who}` : ""}`,
};

/** @param {number} straws @param {number} room */
export function gauge(straws, room) {
  const fill = svg(
    "svg",
    {
      class: "gauge-bar",
      width: "100%",
      height: 12,
      preserveAspectRatio: "none",
      viewBox: "0 0 100 12",
      "aria-hidden": "true",
    },
    svg("rect", {
      class: "disc-fill",
      width: room > 0 ? Math.min(100, (100 * straws) / room) : 0,
      height: 12,
    }),
  );
  return el(
    "span",
    { class: "gauge" },
    fill,
    el("span", { class: "gauge-words" }, text.of(straws, room)),
  );
}

/** @param {any[]} contents */
export function sumStraws(contents) {
  return contents.reduce((sum, item) => sum + item.straws, 0);
}

/** One entry for each stallion in a goblet. @param {any[]} contents */
export function whoIsIn(contents) {
  const found = new Map();
  for (const item of contents) {
    const known = found.get(item.stallion_id) ?? { ...item, straws: 0 };
    found.set(item.stallion_id, { ...known, straws: known.straws + item.straws });
  }
  return [...found.values()];
}

/** @param {any[]} contents @param {Map<string, any>} marks */
function names(contents, marks) {
  return whoIsIn(contents)
    .map((one) => marks.get(one.stallion_id)?.name ?? one.stallion_name ?? "")
    .join(", ");
}

/**
 * A goblet as a card of the list.
 * @param {any} goblet @param {any[]} contents @param {Map<string, any>} marks
 */
export function gobletCard(goblet, contents, marks) {
  return el(
    "a",
    { class: "goblet-card", href: `#/bank/goblet/${goblet.id}` },
    el(
      "span",
      { class: "goblet-head" },
      el("span", { class: "address" }, goblet.address),
      el("span", {}, goblet.tier ?? ""),
    ),
    gauge(sumStraws(contents), goblet.capacity_straws),
    el(
      "span",
      { class: "goblet-marks" },
      contents.length
        ? whoIsIn(contents).map((one) => [
            markBadge(marks.get(one.stallion_id), { small: true, colour: one.straw_colour }),
            ` ${marks.get(one.stallion_id)?.name ?? one.stallion_name ?? ""}: ${one.straws} `,
          ])
        : text.empty,
    ),
  );
}

/** @param {any} goblet @param {any[]} contents @param {Map<string, any>} marks @param {{x: number, y: number}} at @param {number} r */
function gobletDisc(goblet, contents, marks, at, r) {
  const straws = sumStraws(contents);
  const share = goblet.capacity_straws ? Math.min(1, straws / goblet.capacity_straws) : 0;
  const inner = r * 0.93;
  const who = whoIsIn(contents).slice(0, 3);
  const size = Math.min(inner * 0.62, (1.5 * inner) / Math.max(who.length, 1));
  return svg(
    "a",
    {
      href: `#/bank/goblet/${goblet.id}`,
      "aria-label": text.goblet(goblet, straws, names(contents, marks)),
    },
    svg("circle", { class: "disc-goblet", cx: at.x, cy: at.y, r: inner }),
    share > 0 && svg("path", { class: "disc-fill", d: fillPath(at, inner - 1, share) }),
    who.map((one, i) =>
      svg(
        "g",
        {
          transform: `translate(${at.x + (i - who.length / 2) * size} ${at.y - size / 2}) scale(${size / 40})`,
        },
        markShapes(
          marks.get(one.stallion_id),
          colourOf(one.straw_colour ?? marks.get(one.stallion_id)?.colour),
        ),
      ),
    ),
    svg(
      "text",
      {
        class: "disc-number",
        x: at.x,
        y: at.y + inner * 0.74,
        "font-size": lettering(inner, 0.36),
      },
      straws,
    ),
    svg(
      "text",
      { class: "disc-text", x: at.x, y: at.y - inner * 0.46, "font-size": lettering(inner, 0.28) },
      shortAddress(goblet.address),
    ),
  );
}

/** Letters as large as the disc allows, never so large as to shout. @param {number} r @param {number} share */
function lettering(r, share) {
  return Math.min(16, r * share).toFixed(1);
}

/** The last part of an address: the canister's own plate says the rest. @param {string} address */
function shortAddress(address) {
  return address.split(/[-–/ ]/).at(-1) ?? address;
}

/** The part of a disc below the level that its share of straws reaches. @param {{x: number, y: number}} at @param {number} r @param {number} share */
function fillPath(at, r, share) {
  if (share >= 1)
    return `M${at.x - r} ${at.y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`;
  const height = at.y + r - 2 * r * share;
  const half = Math.sqrt(Math.max(0, r * r - (height - at.y) ** 2));
  const large = share > 0.5 ? 1 : 0;
  return `M${at.x - half} ${height}A${r} ${r} 0 ${large} 0 ${at.x + half} ${height}Z`;
}

/** @param {string} name @param {any[]} goblets @param {Map<string, any[]>} contents @param {Map<string, any>} marks */
function layer(name, goblets, contents, marks) {
  const { r, places } = packDiscs(goblets.length, RADIUS - 6);
  const size = RADIUS + 4;
  return el(
    "figure",
    { class: "layer" },
    svg(
      "svg",
      { viewBox: `${-size} ${-size} ${2 * size} ${2 * size}`, role: "group", "aria-label": name },
      svg("circle", { class: "disc-wall", r: RADIUS }),
      goblets.map((goblet, i) =>
        gobletDisc(goblet, contents.get(goblet.id) ?? [], marks, places[i], r),
      ),
    ),
    el("figcaption", { class: "layer-name" }, name),
  );
}

/**
 * The canister as seen from above, one disc for each layer.
 * @param {any} canister @param {Map<string, any[]>} contents @param {Map<string, any>} marks
 */
export function canisterFromAbove(canister, contents, marks) {
  const tiers = [
    ["upper", text.upper],
    ["lower", text.lower],
    [null, text.only],
  ];
  const layers = tiers
    .map(([tier, name]) => ({
      name,
      goblets: canister.goblets.filter((/** @type {any} */ one) => (one.tier ?? null) === tier),
    }))
    .filter((one) => one.goblets.length);
  if (layers.some((one) => one.goblets.length > MOST_DRAWN)) return null;
  return el(
    "div",
    { class: "canister-view no-print" },
    layers.map((one) => layer(String(one.name), one.goblets, contents, marks)),
  );
}

/** Which mark is whose. @param {any[]} contents @param {Map<string, any>} marks */
export function markKey(contents, marks) {
  return el(
    "ul",
    { class: "key", "aria-label": "Marks" },
    whoIsIn(contents).map((one) =>
      el(
        "li",
        {},
        markBadge(marks.get(one.stallion_id), { small: true, colour: one.straw_colour }),
        el(
          "a",
          { href: `#/stallions/${one.stallion_id}` },
          marks.get(one.stallion_id)?.name ?? one.stallion_name ?? "",
        ),
      ),
    ),
  );
}
