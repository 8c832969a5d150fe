/** Ways of telling people, in words. Pure. */

/** @type {Record<string, string>} */
export const KINDS = { email: "E-mail", webhook: "Webhook", push: "Phone or chat" };

/** @type {Record<string, {word: string, kind: "good"|"warn"|"bad"|"plain"}>} */
export const STATES = {
  working: { word: "working", kind: "good" },
  untried: { word: "not tried yet", kind: "plain" },
  failing: { word: "failing", kind: "bad" },
  off: { word: "switched off", kind: "plain" },
};

/** @param {{priorities: string[], digest: boolean}} channel */
export function takesInWords({ priorities, digest }) {
  const found = [];
  if (priorities.includes("critical")) found.push("critical alerts");
  if (priorities.includes("medium")) found.push("alerts for today");
  if (priorities.includes("low")) found.push("alerts for this week");
  if (digest) found.push("the daily summary");
  return found.join(", ") || "nothing";
}

/** What became of a test. @param {{state: string, error: string|null}} test @returns {{words: string, kind: "good"|"bad"}} */
export function testInWords({ state, error }) {
  if (state === "sent")
    return { words: "The test was taken. Look whether it arrived where it should.", kind: "good" };
  return { words: `The test did not arrive: ${error ?? "no reason was given"}`, kind: "bad" };
}
