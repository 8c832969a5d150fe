/**
 * Ids of acts: UUIDv7 (RFC 9562), made here so that a retry carries the same id as the first try.
 * `crypto.randomUUID` is missing on plain http; `getRandomValues` is not.
 */

/**
 * @param {number} millis milliseconds since 1970
 * @param {Uint8Array} random 10 random bytes
 */
export function uuidv7(millis, random) {
  const bytes = new Uint8Array(16);
  for (let i = 0; i < 6; i += 1) bytes[i] = Math.floor(millis / 2 ** (8 * (5 - i))) % 256;
  bytes.set(random.subarray(0, 10), 6);
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [
    hex.slice(0, 8),
    hex.slice(8, 12),
    hex.slice(12, 16),
    hex.slice(16, 20),
    hex.slice(20),
  ].join("-");
}
