/** Taking a dose begins here: which stallion, how many doses, for which mare. Then the plan. */

import { get, post, search } from "../net/api.js";
import { iMay } from "../net/session.js";
import { forgetAct } from "../net/acts.js";
import { ACT, dropTaking, keepTaking, presentTaking } from "../net/walks.js";
import { plural } from "../logic/numbers.js";
import { showDay } from "../logic/times.js";
import { startWalk } from "../logic/walk.js";
import { el, show } from "../parts/dom.js";
import { numberField, selectField, textField } from "../parts/fields.js";
import { form } from "../parts/form.js";
import { go, refresh } from "../parts/go.js";
import { disclosure, linkButton, page } from "../parts/page.js";
import { mareField, stallionField } from "../parts/pickers.js";

const text = {
  title: "Take a dose",
  lead: "Choose stallion and mare here, in the warm. Then the plan leads you from goblet to goblet.",
  doses: "Doses",
  batch: "Only from this batch",
  anyBatch: "Whichever the plan chooses",
  more: "Choose the batch yourself",
  release: "Reason for giving up the reserve or a promise",
  releaseHint:
    "These doses are kept back. As a manager you may release them, with a reason on the record.",
  askManager: "Only a manager can release what is kept back. Ask one, or take fewer doses.",
  owner: "Whose straws",
  common: "The station’s common stock",
  submit: "Show the plan",
  unfinished: "A walk is not finished",
  unfinishedText: (/** @type {any} */ t) =>
    `${t.stallion_name} for ${t.mare.name}: nothing of it is booked yet.`,
  goOn: {
    href: "#/dose/walk",
    text: "Go on with that walk",
    kind: /** @type {const} */ ("primary"),
  },
  giveUp: "Give it up",
  left: (/** @type {any} */ stock) =>
    `${plural(stock.doses, "dose")} may be used, ${plural(stock.straws, "straw")} in the bank.`,
};

/** @param {import("../net/walks.js").Taking} taking */
function unfinished(taking) {
  const drop = el("button", { type: "button", class: "button" }, text.giveUp);
  drop.addEventListener("click", () => {
    dropTaking();
    refresh();
  });
  return el(
    "div",
    { class: "notice notice-warn" },
    el("strong", {}, text.unfinished),
    el("p", {}, text.unfinishedText(taking)),
    el("div", { class: "ways" }, linkButton(text.goOn), drop),
  );
}

/** Whose straws may be taken, where some of them belong to somebody. @param {string} id */
async function ownerField(id) {
  const { items } = await get("/owners");
  const his = items.filter((/** @type {any} */ one) => one.stallion_id === id);
  const options = his.map((/** @type {any} */ one) => ({
    value: one.owner,
    text: `${one.owner}, ${plural(one.doses, "dose")}`,
  }));
  return {
    any: his.length > 0,
    field: selectField({ name: "owner", label: text.owner, none: text.common, options }),
  };
}

/** What is left of the chosen stallion, and his batches to choose from. @param {string} id */
async function aboutStallion(id) {
  const stock = await get(`/stock${search({ stallion_id: id, limit: 1000 })}`);
  const batches = new Map();
  for (const item of stock.items) {
    const known = batches.get(item.batch_id) ?? { ...item, straws: 0 };
    batches.set(item.batch_id, { ...known, straws: known.straws + item.straws });
  }
  const options = [...batches.values()].map((one) => ({
    value: one.batch_id,
    text: `${one.batch_code}, ${showDay(one.collected_on)}, ${plural(one.straws, "straw")}${one.on_hold ? ", on hold" : ""}`,
  }));
  return { left: text.left(stock), options };
}

/** @param {string|undefined} value */
async function fieldsFor(value) {
  const { field: stallion, stallions } = await stallionField({ value });
  return {
    stallions,
    stallion,
    mare: mareField(),
    doses: numberField({
      name: "doses",
      label: text.doses,
      required: true,
      whole: true,
      least: 1,
      most: 1000,
      value: "1",
    }),
    release: textField({ name: "release_reserve", label: text.release, hint: text.releaseHint }),
  };
}

/** @param {import("../parts/page.js").Context} context */
export default async function dose({ query }) {
  const f = await fieldsFor(query.get("stallion") ?? undefined);
  let batch = selectField({
    name: "batch_id",
    label: text.batch,
    none: text.anyBatch,
    options: [],
  });
  const batchPlace = el("div", {}, batch.node);
  const left = el("p", { class: "hint", "aria-live": "polite" });
  let owner = selectField({ name: "owner", label: text.owner, none: text.common, options: [] });
  const ownerPlace = el("div", {});
  f.release.node.hidden = true;
  const fields = () => [
    f.stallion,
    f.mare,
    f.doses,
    batch,
    owner,
    ...(f.release.node.hidden ? [] : [f.release]),
  ];
  const aboutChosen = async () => {
    const id = f.stallion.raw();
    const about = id ? await aboutStallion(id).catch(() => null) : null;
    if (id !== f.stallion.raw()) return;
    left.textContent = about?.left ?? "";
    batch = selectField({
      name: "batch_id",
      label: text.batch,
      none: text.anyBatch,
      options: about?.options ?? [],
    });
    show(batchPlace, batch.node);
    const whose = id ? await ownerField(id).catch(() => null) : null;
    if (id !== f.stallion.raw()) return;
    owner = whose?.field ?? owner;
    show(ownerPlace, whose?.any ? owner.node : []);
  };
  f.stallion.node.addEventListener("change", () => {
    f.release.node.hidden = true;
    aboutChosen();
  });
  const built = form({
    key: "dose",
    fields,
    submit: text.submit,
    body: [
      f.stallion.node,
      left,
      f.mare.node,
      f.doses.node,
      ownerPlace,
      disclosure(text.more, batchPlace),
      f.release.node,
    ],
    send: (values) => plan(values, f.stallions),
    refused: (problem) => reserveReached(problem, f.release, built),
  });
  aboutChosen();
  const taking = presentTaking();
  return page(
    { title: text.title, lead: text.lead, kind: "dose" },
    taking && unfinished(taking),
    built.node,
  );
}

/** @param {any} values @param {any[]} stallions */
async function plan(values, stallions) {
  const { stallion_id, doses, batch_id, release_reserve, owner, mare } = values;
  const asked = {
    stallion_id,
    doses,
    ...(batch_id ? { batch_id } : {}),
    ...(mare.mare_id ? { mare_id: mare.mare_id } : {}),
    ...(owner ? { owner } : {}),
    ...(release_reserve ? { release_reserve } : {}),
  };
  const found = await post("/withdrawals/plan", asked);
  forgetAct(ACT);
  keepTaking({
    stallion_id,
    doses,
    mare,
    plan: found,
    walk: startWalk(found),
    release_reserve,
    owner,
    stallion_name: stallions.find((one) => one.id === stallion_id)?.name ?? "",
  });
  go("#/dose/walk");
}

/** @param {any} problem @param {import("../parts/fields.js").Field} release @param {{said: HTMLElement}} built */
function reserveReached(problem, release, built) {
  if (problem.code !== "reserve-reached" && problem.code !== "promised") return false;
  if (iMay("reserve")) {
    release.node.hidden = false;
    show(built.said, el("div", { class: "problem", role: "alert" }, el("p", {}, problem.message)));
    release.focus();
  } else {
    show(
      built.said,
      el(
        "div",
        { class: "problem", role: "alert" },
        el("p", {}, problem.message),
        el("p", {}, text.askManager),
      ),
    );
    built.said.focus();
  }
  return true;
}
