/**
 * How a stallion is told apart on the map of the bank: letters first, then a pattern, then colour.
 * Colour is a second cue, never the only one (straws fade, eyes differ, phones are turned down).
 */

/** Patterns that stay distinct in greyscale. */
export const PATTERNS = ["plain", "rise", "dots", "level", "fall", "upright", "cross", "ring"];

/** Trade colours of straws, as screens can show them (a neutral for what is not listed). */
const COLOURS = {
  clear: "#e8eef2",
  white: "#ffffff",
  yellow: "#f2d13c",
  orange: "#ee9a3a",
  red: "#cf4338",
  pink: "#eda3bd",
  violet: "#8d6bb5",
  purple: "#8d6bb5",
  lilac: "#c3aedd",
  blue: "#3f74b8",
  "light blue": "#9cc7e6",
  "dark blue": "#27468a",
  turquoise: "#4fb3b0",
  green: "#4b9a57",
  "light green": "#a5d39a",
  "dark green": "#2d6238",
  brown: "#8a6246",
  beige: "#dfcfae",
  grey: "#9aa0a6",
  gray: "#9aa0a6",
  black: "#2b2b2b",
  gold: "#c9a227",
  silver: "#c4c9ce",
};

export const COLOUR_NAMES = Object.keys(COLOURS).filter(
  (name) => name !== "gray" && name !== "purple",
);

/** @param {string|null|undefined} name @returns {string} */
export function colourOf(name) {
  const plain = (name ?? "").trim().toLowerCase();
  if (/^#[0-9a-f]{6}$/.test(plain)) return plain;
  return COLOURS[/** @type {keyof typeof COLOURS} */ (plain)] ?? "#dfe4e8";
}

/** Whether dark or light ink reads better on a colour. @param {string} hex */
export function inkOn(hex) {
  return luminance(hex) > 0.22 ? "#14213a" : "#ffffff";
}

/** Relative luminance as WCAG 2.2 defines it. @param {string} hex "#rrggbb" */
export function luminance(hex) {
  const [r, g, b] = [1, 3, 5].map((at) => {
    const part = parseInt(hex.slice(at, at + 2), 16) / 255;
    return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

/** @param {string} name @returns {string[]} letter pairs worth trying, best first */
function candidates(name) {
  const words = name
    .normalize("NFC")
    .split(/[\s\-’']+/)
    .filter(Boolean);
  const letters = Array.from(words.join(""));
  const first = letters[0] ?? "?";
  const second = words.length > 1 ? Array.from(words[1])[0] : undefined;
  const rest = letters.slice(1);
  const tries = second ? [second, ...rest] : rest;
  const digits = Array.from({ length: 99 }, (_, i) => String(i + 2));
  return [...tries, ...digits].map((one) => (first + one).toLocaleUpperCase("en"));
}

/**
 * Two letters (or letter and number) for each stallion, no two alike.
 * @param {{id: string, name: string}[]} stallions
 * @returns {Map<string, {letters: string, pattern: string}>}
 */
export function marksFor(stallions) {
  const sorted = [...stallions].sort(
    (a, b) => a.name.localeCompare(b.name, "en") || (a.id < b.id ? -1 : 1),
  );
  const taken = new Set();
  const marks = new Map();
  sorted.forEach((stallion, index) => {
    const letters = candidates(stallion.name).find((one) => !taken.has(one)) ?? `#${index}`;
    taken.add(letters);
    marks.set(stallion.id, { letters, pattern: PATTERNS[index % PATTERNS.length] });
  });
  return marks;
}
