/**
 * The walk to the tank: one step per goblet in the plan's order, each confirmed by count or by the
 * codes read. Pure: every function gives a new walk, so a reload or an undo loses nothing.
 */

/**
 * @typedef {object} Step
 * @property {string} goblet_id
 * @property {string} address
 * @property {string} batch_id
 * @property {string} batch_code
 * @property {string|null} [straw_colour]
 * @property {number} straws      how many the plan asks for here
 * @property {string[]} straw_codes  those the book would take; a twin does as well
 * @property {string[]} codes     read so far
 * @property {number|null} taken  confirmed number; null while open
 */
/** @typedef {{steps: Step[], at: number}} Walk */

/** @param {{picks: any[]}} plan @returns {Walk} */
export function startWalk(plan) {
  const steps = plan.picks.map((pick) => ({
    ...pick,
    straw_codes: pick.straw_codes ?? [],
    codes: [],
    taken: null,
  }));
  return { steps, at: 0 };
}

/** @param {Walk} walk @param {number} index @param {Partial<Step>} change @returns {Walk} */
function withStep(walk, index, change) {
  const steps = walk.steps.map((step, i) => (i === index ? { ...step, ...change } : step));
  return { ...walk, steps };
}

/** @param {Walk} walk */
function nextOpen(walk) {
  const open = walk.steps.findIndex((step) => step.taken === null);
  return open < 0 ? walk.steps.length : open;
}

/** Confirm the present step by count. @param {Walk} walk @param {number} straws @returns {Walk} */
export function confirmStep(walk, straws) {
  const done = withStep(walk, walk.at, { taken: straws });
  return { ...done, at: nextOpen(done) };
}

/** Open the step again. Codes read stay. @param {Walk} walk @param {number} index @returns {Walk} */
export function reopenStep(walk, index) {
  return { ...withStep(walk, index, { taken: null }), at: index };
}

/** How many straws of the present step have not been read. @param {Walk} walk */
export function unread(walk) {
  const step = walk.steps[walk.at];
  return step.straws - step.codes.length;
}

/**
 * What a code means at the present step, before the service is asked.
 * @param {Walk} walk @param {string} code
 * @returns {"planned"|"again"|"look-up"}
 */
export function judgeCode(walk, code) {
  if (walk.steps.some((one) => one.codes.includes(code))) return "again";
  return unread(walk) > 0 && walk.steps[walk.at].straw_codes.includes(code) ? "planned" : "look-up";
}

/**
 * @typedef {{kind: string, batch_id?: string, stallion_id?: string, state?: string,
 *   provisional?: boolean, on_hold?: boolean, goblet_id?: string|null}} Found
 */

/**
 * What a looked-up straw means at the present step. A twin (same batch) is as good as the planned;
 * also one that the book let go by count ("exchange"), for then it was another twin that left. The
 * gravest reason against a straw is the one that is told.
 * @param {Walk} walk @param {Found} found @param {string} stallionId
 * @returns {"twin"|"exchange"|"full"|"not-a-straw"|"wrong-stallion"|"other-batch"|"later"|"gone"|"on-hold"|"elsewhere"}
 */
export function judgeFound(walk, found, stallionId) {
  const step = walk.steps[walk.at];
  if (found.kind !== "straw") return "not-a-straw";
  if (found.stallion_id && found.stallion_id !== stallionId) return "wrong-stallion";
  const stored = found.state === "stored";
  if (!stored && !found.provisional) return "gone";
  if (found.on_hold) return "on-hold";
  if (found.batch_id !== step.batch_id)
    return walk.steps.some((one) => one.batch_id === found.batch_id && one.taken === null)
      ? "later"
      : "other-batch";
  if (unread(walk) <= 0) return "full";
  if (!stored) return "exchange";
  const sure = !found.provisional && found.goblet_id;
  return sure && found.goblet_id !== step.goblet_id ? "elsewhere" : "twin";
}

/**
 * What a place's code means at the present step. The next goblet's plate says that one is done
 * here, once every straw is read.
 * @param {Walk} walk @param {{kind: string, id: string}} found
 * @param {{canister_id: string, tank_id: string}|null} here  where the step's goblet hangs
 * @returns {"here"|"next"|"not-yet"|"other-place"}
 */
export function judgePlace(walk, found, here) {
  const step = walk.steps[walk.at];
  if (found.kind === "goblet") {
    if (found.id === step.goblet_id) return "here";
    const next = walk.steps.findIndex((one, i) => i !== walk.at && one.taken === null);
    if (next < 0 || walk.steps[next].goblet_id !== found.id) return "other-place";
    return unread(walk) > 0 ? "not-yet" : "next";
  }
  const right = found.kind === "canister" ? here?.canister_id : here?.tank_id;
  return right === found.id ? "here" : "other-place";
}

/** Codes read that are not those the plan named: as good, and taken in their stead. @param {Walk} walk */
export function twinsRead(walk) {
  return walk.steps.flatMap((step) =>
    step.codes.filter((code) => !step.straw_codes.includes(code)),
  );
}

/** @param {Walk} walk @param {string} code @returns {Walk} */
export function addCode(walk, code) {
  const step = walk.steps[walk.at];
  return withStep(walk, walk.at, { codes: [...step.codes, code] });
}

/** @param {Walk} walk @param {string} code @returns {Walk} */
export function dropCode(walk, code) {
  const steps = walk.steps.map((step) => ({
    ...step,
    codes: step.codes.filter((one) => one !== code),
  }));
  return { ...walk, steps };
}

/** @param {Walk} walk */
export function isComplete(walk) {
  return walk.steps.every((step) => step.taken !== null);
}

/** @param {Walk} walk */
export function strawsTaken(walk) {
  return walk.steps.reduce((sum, step) => sum + (step.taken ?? 0), 0);
}

/**
 * The picks to book: the number from each goblet, with the codes seen there where there were any.
 * @param {Walk} walk
 */
export function picksOf(walk) {
  return walk.steps
    .filter((step) => (step.taken ?? 0) > 0)
    .map((step) => ({
      goblet_id: step.goblet_id,
      batch_id: step.batch_id,
      straws: step.taken,
      ...(step.codes.length ? { seen_straw_codes: step.codes } : {}),
    }));
}
