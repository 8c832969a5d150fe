/** One level or top-up, entered with a gloved hand: large keys, one figure, what was seen. */

import { forgetAct, newId, sendAct } from "../net/acts.js";
import { get, post } from "../net/api.js";
import { showNumber } from "../logic/numbers.js";
import { caution } from "../parts/cautions.js";
import { el, show } from "../parts/dom.js";
import { announce, toast } from "../parts/live.js";
import { empty, linkButton, page } from "../parts/page.js";
import { problemBox } from "../parts/problem.js";
import { whenField } from "../parts/when.js";

const text = {
  title: (/** @type {string} */ name) => `Nitrogen in ${name}`,
  back: "How it stands",
  what: "What is entered",
  kinds: { level: "Level", filled: "Top-up" },
  unit: "In which unit",
  units: { level_cm: "cm", litres: "litres", weight_kg: "kg" },
  filledUnits: { level_after_cm: "cm after", litres_added: "litres added" },
  pad: "Number pad",
  back1: "Delete the last sign",
  signs: "Seen or heard at the tank",
  sign: { frost: "Frost", sweat: "Sweat", noise: "Hissing" },
  when: "At another time than now",
  book: { level: "Book this level", filled: "Book this top-up" },
  none: "Type the figure first.",
  further: "This is a further entry: let me book it",
  made: (/** @type {any} */ kept) =>
    `${showNumber(kept.litres, { decimals: 1 })} litres, ${showNumber(kept.level_cm, { decimals: 1 })} cm, ${showNumber(kept.percent, { decimals: 0 })} % full.`,
  filled: (/** @type {any} */ kept) =>
    kept.litres_after === null
      ? "The top-up is booked."
      : `The top-up is booked: ${showNumber(kept.litres_after, { decimals: 1 })} litres afterwards.`,
  low: "Below the minimum level: top it up now.",
  strange: "Measure again?",
  kept: "It is kept as you read it.",
  right: "It is right",
  again: "Strike it, and measure again",
  mistake: "misread; measured again",
  struck: "Struck. Enter the new figure.",
  retired: "This tank is out of use.",
};

const KEYS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", ",", "0", "⌫"];
const DOTS = { cm: "level_cm", litres: "litres", kg: "weight_kg" };

/** A row of buttons of which one is pressed. @param {string} label @param {Record<string, string>} options @param {string} chosen @param {(value: string) => void} choose */
function choice(label, options, chosen, choose) {
  const buttons = Object.entries(options).map(([value, name]) => {
    const button = el("button", { type: "button", class: "button", "aria-pressed": String(value === chosen) }, name);
    button.addEventListener("click", () => choose(value));
    return button;
  });
  return el("div", { class: "pad-choice", role: "group", "aria-label": label }, buttons);
}

/** @param {import("../parts/page.js").Context} context */
export default async function dipPage({ params }) {
  const [tank, station] = await Promise.all([get(`/tanks/${params.id}`), get("/station")]);
  const back = { href: `#/bank/tank/${tank.id}/nitrogen`, text: text.back };
  if (tank.retired_at) return page({ title: text.title(tank.name), back }, empty(text.retired, back));
  const entry = newEntry(tank, station);
  const place = el("div", { class: "dip form" });
  const draw = (focused = "") => {
    show(place, entryView(entry, draw, booked));
    const same = [...place.querySelectorAll("button")].find((one) => one.textContent === focused);
    same?.focus();
  };
  const booked = (/** @type {any} */ kept) => {
    show(place, keptView(entry, kept, draw));
    /** @type {HTMLElement|null} */ (place.querySelector("[tabindex]"))?.focus();
  };
  draw();
  return page({ title: text.title(tank.name), back, kind: "dose" }, place);
}

/** @param {any} tank @param {any} station */
function newEntry(tank, station) {
  const unit = DOTS[/** @type {"cm"} */ (station.level_unit)] ?? "level_cm";
  return {
    tank,
    kind: /** @type {"level"|"filled"} */ ("level"),
    unit: unit === "weight_kg" && tank.empty_weight_kg === null ? "level_cm" : unit,
    filledUnit: "litres_added",
    digits: "",
    signs: /** @type {Set<string>} */ (new Set()),
    when: whenField(),
  };
}

/** @typedef {ReturnType<typeof newEntry>} Entry */

/** @param {Entry} entry */
function unitsOf(entry) {
  if (entry.kind === "filled") return text.filledUnits;
  const { weight_kg, ...others } = text.units;
  return entry.tank.empty_weight_kg === null ? others : { ...others, weight_kg };
}

/** @param {Entry} entry @param {(focused?: string) => void} draw @param {(kept: any) => void} booked */
function entryView(entry, draw, booked) {
  const unit = entry.kind === "level" ? entry.unit : entry.filledUnit;
  const units = /** @type {Record<string, string>} */ (unitsOf(entry));
  const figure = el("output", { class: "pad-figure", "aria-live": "polite" });
  const tell = () => show(figure, entry.digits || "–", " ", el("small", {}, units[unit]));
  const press = (/** @type {string} */ key) => {
    if (key === "⌫") entry.digits = entry.digits.slice(0, -1);
    else if (key !== "," || !entry.digits.includes(",")) entry.digits += key;
    entry.digits = entry.digits.replace(/^,/, "0,").slice(0, 7);
    tell();
  };
  tell();
  const keys = KEYS.map((key) => {
    const name = key === "⌫" ? { "aria-label": text.back1 } : {};
    const button = el("button", { type: "button", class: "button", ...name }, key);
    button.addEventListener("click", () => press(key));
    return button;
  });
  const said = el("div", { class: "form-part" });
  const book = el("button", { type: "button", class: "button button-primary button-wide" }, text.book[entry.kind]);
  book.addEventListener("click", () => send(entry, unit, book, said, booked));
  return [
    choice(text.what, text.kinds, entry.kind, (kind) => {
      entry.kind = /** @type {"level"} */ (kind);
      draw(text.kinds[entry.kind]);
    }),
    choice(text.unit, units, unit, (chosen) => {
      if (entry.kind === "level") entry.unit = chosen;
      else entry.filledUnit = chosen;
      draw(units[chosen]);
    }),
    figure,
    el("div", { class: "pad", role: "group", "aria-label": text.pad }, keys),
    entry.kind === "level" && signsView(entry),
    said,
    book,
    entry.when.node,
    caution("dipping"),
  ];
}

/** @param {Entry} entry */
function signsView(entry) {
  const buttons = Object.entries(text.sign).map(([sign, name]) => {
    const button = el("button", { type: "button", class: "button", "aria-pressed": String(entry.signs.has(sign)) }, name);
    button.addEventListener("click", () => {
      if (!entry.signs.delete(sign)) entry.signs.add(sign);
      button.setAttribute("aria-pressed", String(entry.signs.has(sign)));
    });
    return button;
  });
  return el(
    "div",
    { class: "form-part" },
    el("p", {}, text.signs),
    el("div", { class: "pad-choice", role: "group", "aria-label": text.signs }, buttons),
  );
}

/** @param {Entry} entry @param {string} unit @param {HTMLButtonElement} button @param {HTMLElement} said @param {(kept: any) => void} booked */
async function send(entry, unit, button, said, booked) {
  const number = Number(entry.digits.replace(",", "."));
  if (!entry.digits || Number.isNaN(number)) {
    show(said, el("p", { class: "problem", role: "alert" }, text.none));
    return;
  }
  const found = entry.when.field.read();
  if (!found.ok) {
    entry.when.field.complain(found.message);
    return;
  }
  const level = entry.kind === "level";
  const body = {
    [unit]: number,
    ...(level ? { signs: [...entry.signs] } : {}),
    ...(found.value ? { [level ? "measured_at" : "filled_at"]: found.value } : {}),
  };
  const act = `${entry.kind}:${entry.tank.id}`;
  button.disabled = true;
  try {
    const path = `/tanks/${entry.tank.id}/${level ? "levels" : "top-ups"}`;
    const { data } = await sendAct(act, path, body);
    entry.digits = "";
    entry.signs.clear();
    booked({ ...data, level });
  } catch (problem) {
    const reused = /** @type {any} */ (problem).code === "id-reused";
    show(said, problemBox(problem, "book"), reused && furtherWays(entry, act, said));
    button.disabled = false;
  }
}

/** The first try did arrive: look at it, or say that this is another. @param {Entry} entry @param {string} act @param {HTMLElement} said */
function furtherWays(entry, act, said) {
  const again = el("button", { type: "button", class: "button" }, text.further);
  again.addEventListener("click", () => {
    forgetAct(act);
    show(said);
  });
  const back = { href: `#/bank/tank/${entry.tank.id}/nitrogen`, text: text.back };
  return el("p", { class: "ways" }, linkButton(back), again);
}

/** @param {Entry} entry @param {any} kept @param {(focused?: string) => void} draw */
function keptView(entry, kept, draw) {
  const told = kept.level ? text.made(kept) : text.filled(kept);
  announce(told);
  const on = linkButton({
    href: `#/bank/tank/${entry.tank.id}/nitrogen`,
    text: kept.warnings.length ? text.right : text.back,
    kind: "primary",
  });
  const again = el("button", { type: "button", class: "button button-wide" }, text.again);
  again.addEventListener("click", async () => {
    again.disabled = true;
    const list = kept.level ? "levels" : "top-ups";
    try {
      const path = `/tanks/${entry.tank.id}/${list}/${kept.id}/strike`;
      await post(path, { id: newId(), reason: text.mistake });
      toast(text.struck);
      draw(text.kinds[entry.kind]);
    } catch (problem) {
      again.disabled = false;
      again.after(problemBox(problem));
    }
  });
  return [
    el("div", { class: "notice notice-good", tabindex: "-1" }, el("p", {}, el("strong", {}, told))),
    kept.below_minimum && el("p", { class: "notice notice-warn" }, text.low),
    kept.warnings.length > 0 &&
      el(
        "div",
        { class: "notice notice-warn", role: "alert" },
        el("h2", {}, text.strange),
        kept.warnings.map((/** @type {any} */ one) => el("p", {}, one.message)),
        el("p", {}, text.kept),
      ),
    kept.warnings.length > 0 && again,
    on,
  ];
}
