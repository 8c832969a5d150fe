/**
 * Counting one goblet with a gloved hand: lift, look, lower, say what was seen, send. This page asks
 * for nothing that would tell what the book expects here.
 */

import { countAnew, dropCount, keepCount, loadTake, presentCount, sendCount } from "../net/takes.js";
import { moment, person } from "../net/session.js";
import * as counts from "../logic/counts.js";
import { plural } from "../logic/numbers.js";
import { leftToCount, nextGoblet } from "../logic/stock_takes.js";
import { batchChoice } from "../parts/batch_choice.js";
import { batchesSeen, codesSeen, othersSeen } from "../parts/count_lists.js";
import { newBatch, takeCode, takeMark } from "../parts/count_scan.js";
import { el, show } from "../parts/dom.js";
import { liftClock } from "../parts/lift_clock.js";
import { announce } from "../parts/live.js";
import { disclosure, empty, linkButton, page } from "../parts/page.js";
import { platesLead } from "../parts/plates_lead.js";
import { problemBox } from "../parts/problem.js";
import { scanField } from "../parts/scan.js";
import { caution } from "../parts/cautions.js";

const text = {
  back: "The stock-take",
  notHere: "This goblet is not part of the stock-take.",
  closed: "This stock-take is closed. Nothing more is counted in it.",
  where: (/** @type {string} */ tank, /** @type {number} */ left) =>
    `${tank}. ${plural(left, "goblet")} left to count.`,
  counted: (/** @type {string} */ who, /** @type {string} */ when) =>
    `${who} counted it on ${when}. A further count takes its place; both are kept.`,
  again: "It is to be counted again. You have counted it before: better let somebody else do it.",
  ways: "How you count",
  way: { scan: "By scanning", number: "By number" },
  emptyWay: "It is empty",
  scan: { scan: "Scan each straw, or type its code", number: "Scan a mark to add its batch" },
  choose: "Choose stallion and batch",
  send: (/** @type {string} */ seen) => `Send: ${seen}`,
  sendNothing: "Send",
  nothing: "Nothing is entered yet. Scan, add a batch, or say that the goblet is empty.",
  forgotten: (/** @type {string} */ name) => `Say how many of ${name}, or take it off.`,
  sending: "Sending …",
  clear: "Begin this goblet anew",
  further: "This is a further count: let me send it",
  sent: (/** @type {string} */ address) => `${address} is counted`,
  seen: (/** @type {string} */ seen) => `Sent: ${seen}.`,
  left: (/** @type {number} */ left) =>
    left ? `${plural(left, "goblet")} left to count.` : "That was the last one. All are counted.",
  next: (/** @type {string} */ address) => `Next: ${address}`,
  scanNext: "Or scan the plate of the goblet that you go to.",
  mend: "It was something else: count it again",
};

/** @typedef {import("../logic/stock_takes.js").Goblet} Goblet */

/** @param {import("../parts/page.js").Context} context */
export default async function countPage({ params, signal }) {
  const take = await loadTake(params.id);
  const back = { href: `#/stock-takes/${take.id}`, text: text.back };
  /** @type {Goblet|undefined} */
  const goblet = take.goblets.find((/** @type {Goblet} */ one) => one.goblet_id === params.goblet);
  if (!goblet) return page({ title: text.notHere, back }, empty(text.notHere, back));
  if (take.state === "closed")
    return page({ title: goblet.address, back }, empty(text.closed, back));
  const place = el("div", { class: "count form" });
  const draw = () => show(place, countingView(take, goblet, draw, sent));
  const sent = async (/** @type {any} */ answer) => {
    // Others count as well: the next one is what is left now.
    const now = await loadTake(take.id).catch(() => take);
    show(place, sentView(now, goblet, answer, draw, signal));
    place.querySelector("h2")?.focus();
  };
  draw();
  return page({ title: goblet.address, back, kind: "count-page" }, place);
}

/** What there is to know before: never what the book has. @param {any} take @param {Goblet} goblet */
function before(take, goblet) {
  const mine = take.counts.some(
    (/** @type {any} */ one) =>
      one.goblet_id === goblet.goblet_id && one.by === person()?.display_name,
  );
  return [
    el("p", { class: "count-where" }, text.where(goblet.tank_name, leftToCount(take.goblets).length)),
    goblet.counted_by &&
      el("p", { class: "notice" }, text.counted(goblet.counted_by, moment(goblet.counted_at))),
    !goblet.counted_by && goblet.rounds > 1 && mine && el("p", { class: "notice notice-warn" }, text.again),
  ];
}

/**
 * @param {any} take @param {Goblet} goblet @param {() => void} anew @param {(answer: any) => Promise<void>} sent
 */
function countingView(take, goblet, anew, sent) {
  let count = presentCount(take.id, goblet);
  const change = (/** @type {(count: counts.GobletCount, now: string) => counts.GobletCount} */ how) => {
    count = how(count, new Date().toISOString());
    keepCount(take.id, goblet, count);
    draw();
  };
  /** @type {import("../parts/count_scan.js").Counting} */
  const counting = { gobletId: goblet.goblet_id, count: () => count, change };
  const clock = liftClock({
    count: () => count,
    lift: () => change(counts.lift),
    lower: () => change(counts.lower),
  });
  const ways = waysOf(change);
  const entry = entryOf(counting);
  const others = othersSeen(count, {
    unreadable: (straws) => change((now, at) => counts.setUnreadable(now, straws, at)),
    foreign: (mark) => change((now, at) => counts.addForeign(now, mark, at)),
    dropForeign: (which) => change((now, at) => counts.dropForeign(now, which, at)),
  });
  const said = el("div", { class: "form-part" });
  const send = el("button", { type: "button", class: "button button-primary button-wide count-send" });
  const clear = el("button", { type: "button", class: "button button-quiet" }, text.clear);
  clear.addEventListener("click", () => {
    dropCount(take.id, goblet);
    anew();
  });
  send.addEventListener("click", () => {
    change(counts.lower);
    sendIt({ take, goblet, count, send, said, sent, name });
  });
  const name = () => {
    const nothing = counts.isNothing(count);
    const seen = { ...count, straws: counts.strawsSeen(count) };
    send.textContent = nothing ? text.sendNothing : text.send(counts.seenInWords(seen));
    clear.hidden = nothing && !count.startedAt;
  };
  const draw = () => {
    show(said);
    for (const part of [clock, ways, entry, others]) part.draw(count);
    name();
  };
  draw();
  return [
    before(take, goblet),
    clock.node,
    ways.node,
    entry.node,
    others.node,
    said,
    send,
    clear,
    caution("lifting"),
  ];
}

/** Scan, number, or empty with one tap. @param {(how: (count: counts.GobletCount, now: string) => counts.GobletCount) => void} change */
function waysOf(change) {
  const choice = (/** @type {string} */ words, /** @type {() => void} */ act) => {
    const button = el("button", { type: "button", class: "button", "aria-pressed": "false" }, words);
    button.addEventListener("click", act);
    return button;
  };
  const scan = choice(text.way.scan, () => change((count) => counts.chooseWay(count, "scan")));
  const number = choice(text.way.number, () => change((count) => counts.chooseWay(count, "number")));
  const nothing = choice(text.emptyWay, () =>
    change((count, now) => counts.setEmpty(count, !count.empty, now)),
  );
  return {
    node: el("div", { class: "pad-choice", role: "group", "aria-label": text.ways }, scan, number, nothing),
    draw(/** @type {counts.GobletCount} */ count) {
      scan.setAttribute("aria-pressed", String(!count.empty && count.way === "scan"));
      number.setAttribute("aria-pressed", String(!count.empty && count.way === "number"));
      nothing.setAttribute("aria-pressed", String(count.empty));
      nothing.disabled = counts.strawsSeen(count) + count.unreadable + count.foreign.length > 0;
    },
  };
}

/** The field for scans, and below it what was seen. @param {import("../parts/count_scan.js").Counting} counting */
function entryOf(counting) {
  const { change } = counting;
  const scan = scanField({
    label: text.scan.scan,
    got: (code, kind) => takeCode(counting, code, kind),
    strange: (mark) => takeMark(counting, mark),
  });
  const label = /** @type {HTMLElement} */ (scan.node.querySelector("label"));
  const codes = codesSeen((code) => change((count, now) => counts.dropCode(count, code, now)));
  const batches = batchesSeen({
    set: (key, straws) => change((count, now) => counts.setStraws(count, key, straws, now)),
    drop: (key) => change((count, now) => counts.dropBatch(count, key, now)),
  });
  const choose = batchChoice((batch) => {
    choosing.open = false;
    change((count, now) => counts.addBatch(count, newBatch(batch), now));
    /** @type {HTMLElement|null} */ (batches.node.querySelector("input"))?.focus();
  });
  const choosing = disclosure(text.choose, choose.node);
  choosing.addEventListener("toggle", () => choosing.open && choose.start());
  const node = el("div", { class: "count-entry" }, batches.node, scan.node, codes.node, choosing);
  return {
    node,
    draw(/** @type {counts.GobletCount} */ count) {
      label.textContent = text.scan[count.way];
      codes.node.hidden = count.way !== "scan" && !count.codes.length;
      choosing.hidden = count.way !== "number";
      codes.draw(count);
      batches.draw(count);
    },
  };
}

/** Above the large button, and not behind it. @param {HTMLElement} said @param {...import("../parts/dom.js").Children} words */
function tell(said, ...words) {
  show(said, ...words);
  said.scrollIntoView({ block: "center" });
}

/** What is still to be said before it can be sent; null when nothing is. @param {counts.GobletCount} count */
function missing(count) {
  if (counts.isNothing(count)) return text.nothing;
  const open = counts.forgotten(count);
  return open && text.forgotten(open.name);
}

/**
 * @param {{take: any, goblet: Goblet, count: counts.GobletCount, send: HTMLButtonElement,
 *   said: HTMLElement, sent: (answer: any) => Promise<void>, name: () => void}} one
 */
async function sendIt({ take, goblet, count, send, said, sent, name }) {
  const open = missing(count);
  if (open) {
    tell(said, el("p", { class: "problem", role: "alert" }, open));
    return;
  }
  send.disabled = true;
  send.textContent = text.sending;
  try {
    await sent(await sendCount(take.id, goblet, counts.bodyOf(count, goblet.goblet_id)));
  } catch (problem) {
    const reused = /** @type {any} */ (problem).code === "id-reused";
    tell(said, problemBox(problem, "book"), reused && furtherWay(take, goblet, said));
    send.disabled = false;
    name();
  }
}

/** @param {any} take @param {Goblet} goblet @param {HTMLElement} said */
function furtherWay(take, goblet, said) {
  const again = el("button", { type: "button", class: "button" }, text.further);
  again.addEventListener("click", () => {
    countAnew(take.id, goblet);
    show(said);
  });
  return el("p", { class: "ways" }, again);
}

/** @param {any} take @param {Goblet} goblet @param {any} answer @param {() => void} again @param {AbortSignal} signal */
function sentView(take, goblet, answer, again, signal) {
  const told = text.seen(counts.seenInWords(answer));
  announce(`${text.sent(answer.address)}. ${told} ${text.left(answer.left_to_count)}`);
  const next = nextGoblet(take.goblets, goblet.goblet_id);
  const others = answer.left_to_count > 0 && next;
  const mend = el("button", { type: "button", class: "button" }, text.mend);
  mend.addEventListener("click", again);
  platesLead(take, signal);
  return [
    el(
      "div",
      { class: "notice notice-good" },
      el("h2", { tabindex: "-1" }, text.sent(answer.address)),
      el("p", { class: "count-seen" }, told),
      el("p", {}, text.left(answer.left_to_count)),
    ),
    others &&
      linkButton({
        href: `#/stock-takes/${take.id}/count/${next.goblet_id}`,
        text: text.next(next.address),
        kind: "primary",
      }),
    others && el("p", { class: "count-where" }, text.scanNext),
    linkButton({
      href: `#/stock-takes/${take.id}`,
      text: text.back,
      kind: others ? undefined : "primary",
    }),
    mend,
  ];
}
