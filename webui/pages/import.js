/** The station's own list into the book, every row or none; and the book out as a spreadsheet. */

import { bookAll, inBase64, LARGEST_FILE_BYTES, lookAt } from "../net/imports.js";
import { iMay } from "../net/session.js";
import { plural } from "../logic/numbers.js";
import { el, freshId, show } from "../parts/dom.js";
import { selectField } from "../parts/fields.js";
import { columnsBox, questionBoxes, stallionsBox } from "../parts/import_answers.js";
import { fates, fileFacts } from "../parts/import_fates.js";
import { announce, toast } from "../parts/live.js";
import { linkButton, page, section } from "../parts/page.js";
import { problemBox } from "../parts/problem.js";

const text = {
  title: "Spreadsheet in and out",
  back: { href: "#/bank", text: "The bank" },
  in: "Bring in old stock",
  inLead:
    "Save your list as CSV and choose it here. First you see what would become of every row; nothing is booked until you say so, and then all rows or none.",
  file: "Your list, as a CSV file",
  template: "A file to start from:",
  reading: "Looking at every row …",
  tooLarge: "This file is larger than 5 MB. Export the table alone, or cut it in two.",
  book: (/** @type {number} */ straws) => `Book all ${plural(straws, "straw")}`,
  notReady: "Answer what is asked and put right what is refused; then the file can be booked.",
  booking: (/** @type {number} */ done, /** @type {number} */ of) =>
    `${done.toLocaleString("en")} of ${of.toLocaleString("en")} rows booked …`,
  waiting: "Reading the file once more …",
  done: (/** @type {number} */ straws, /** @type {number} */ batches) =>
    `${plural(straws, "straw")} in ${plural(batches, "batch", "batches")} are in the book.`,
  see: { href: "#/bank", text: "See the bank", kind: /** @type {const} */ ("primary") },
  out: "Take the book out",
  outLead:
    "The stock can be brought into another bank with the same goblet addresses. A text that a spreadsheet program could run as a formula has an apostrophe before it.",
  style: "Written for",
  styles: [
    { value: "delimiter=comma&decimal=point", text: "comma between cells, 0.5" },
    { value: "delimiter=semicolon&decimal=comma", text: "semicolon between cells, 0,5" },
    { value: "delimiter=tab&decimal=point", text: "tab between cells, 0.5" },
  ],
  files: [
    { what: "stock", name: "Stock" },
    { what: "ledger", name: "The book" },
    { what: "freezes", name: "Freezes" },
    { what: "withdrawals", name: "Withdrawals" },
  ],
};

/** @param {string} path @param {string} style @param {string} name */
function download(path, style, name) {
  return el("a", { class: "button", href: `/api/${path}?${style}`, download: true }, name);
}

function outSection() {
  const style = selectField({
    name: "style",
    label: text.style,
    required: true,
    options: text.styles,
    value: text.styles[0].value,
  });
  const links = el("p", { class: "ways" });
  const draw = () =>
    show(
      links,
      text.files.map(({ what, name }) => download(`exports/${what}.csv`, style.raw(), name)),
    );
  style.node.addEventListener("change", draw);
  draw();
  return section(text.out, el("p", {}, text.outLead), style.node, links);
}

/** @param {(file: File) => void} chosen */
function fileField(chosen) {
  const input = el("input", { type: "file", id: freshId("file"), accept: ".csv,.txt,text/csv" });
  input.addEventListener("change", () => {
    if (input.files?.[0]) chosen(input.files[0]);
  });
  return el("div", { class: "field" }, el("label", { for: input.id }, text.file), input);
}

/** The words of the control that has the focus, so that it gets it again once it is redrawn. @param {HTMLElement} within */
function labelOfFocus(within) {
  const control = document.activeElement;
  if (!(control instanceof HTMLSelectElement) || !within.contains(control)) return null;
  return control.labels[0]?.textContent ?? null;
}

/** @param {HTMLElement} within @param {string|null} label */
function focusLabelled(within, label) {
  if (label === null) return;
  [...within.querySelectorAll("select")]
    .find((one) => one.labels[0]?.textContent === label)
    ?.focus();
}

function inSection() {
  const result = el("div", { class: "import-result" });
  /** @type {import("../net/imports.js").Sheet|null} */
  let sheet = null;
  /** @type {Record<string, any>} */
  let answers = {};
  let turn = 0;

  const look = async () => {
    if (!sheet) return;
    const mine = ++turn;
    announce(text.reading);
    result.setAttribute("aria-busy", "true");
    try {
      const looked = await lookAt(sheet, answers);
      if (mine !== turn) return;
      const label = labelOfFocus(result);
      show(result, seen(looked));
      focusLabelled(result, label);
    } catch (problem) {
      if (mine === turn) show(result, problemBox(problem));
    } finally {
      if (mine === turn) result.removeAttribute("aria-busy");
    }
  };

  /** @param {Record<string, any>} more */
  const said = (more) => {
    answers = { ...answers, ...more };
    look();
  };

  /** @param {any} looked */
  const seen = (looked) => [
    ...questionBoxes(looked, answers, said),
    looked.assumptions.map((/** @type {string} */ one) => el("p", { class: "notice" }, one)),
    fileFacts(looked),
    columnsBox(looked, answers, said),
    stallionsBox(looked, answers, said),
    looked.ready ? bookButton(looked) : el("p", { class: "notice notice-warn" }, text.notReady),
    fates(looked),
  ];

  /** @param {any} looked */
  const bookButton = (looked) => {
    const button = el(
      "button",
      { type: "button", class: "button button-primary button-wide" },
      text.book(looked.totals.straws),
    );
    const place = el("div", {});
    button.addEventListener("click", async () => {
      button.disabled = true;
      const bar = el("progress", { max: 1, "aria-label": button.textContent });
      const words = el("p", { role: "status" }, text.waiting);
      show(place, bar, words);
      try {
        const done = await bookAll(
          /** @type {import("../net/imports.js").Sheet} */ (sheet),
          answers,
          ({ state, rows_done, rows }) => {
            if (state !== "booking" || !rows) return;
            bar.value = rows_done / rows;
            words.textContent = text.booking(rows_done, rows);
          },
        );
        toast(text.done(done.totals.straws, done.totals.batches));
        show(
          result,
          el(
            "p",
            { class: "notice notice-good" },
            text.done(done.totals.straws, done.totals.batches),
          ),
          el("p", { class: "ways" }, linkButton(text.see)),
        );
      } catch (problem) {
        button.disabled = false;
        show(place, problemBox(problem, "book"));
      }
    });
    return el("div", { class: "import-book" }, button, place);
  };

  const chosen = async (/** @type {File} */ file) => {
    answers = {};
    if (file.size > LARGEST_FILE_BYTES) {
      sheet = null;
      turn += 1;
      return show(result, el("p", { class: "notice notice-warn", role: "alert" }, text.tooLarge));
    }
    show(result, el("p", { role: "status" }, text.reading));
    const mark = `${file.name}:${file.size}:${file.lastModified}`;
    sheet = { name: file.name, content: await inBase64(file), mark };
    look();
  };

  return section(
    text.in,
    el("p", {}, text.inLead),
    fileField(chosen),
    el(
      "p",
      { class: "ways" },
      el("span", {}, text.template),
      text.styles.slice(0, 2).map((style) => download("imports/template.csv", style.value, style.text)),
    ),
    result,
  );
}

export default async function importPage() {
  return page({ title: text.title, back: text.back }, iMay("book") && inSection(), outSection());
}
