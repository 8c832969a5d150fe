/** For what was done earlier and is only entered now; left alone, the act happened now. */

import { momentField } from "./fields.js";
import { disclosure } from "./page.js";

const text = {
  title: "It was done earlier",
  label: "Done at",
  hint: "The book keeps both: when it was done and when it was entered.",
};

export function whenField() {
  const field = momentField({ name: "occurred_at", label: text.label, hint: text.hint });
  return { field, node: disclosure(text.title, field.node) };
}
