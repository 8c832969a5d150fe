/** Sign-in: the only page for somebody who is not signed in. */

import { person } from "../net/session.js";
import { backFrom } from "../logic/routes.js";
import { el } from "../parts/dom.js";
import { go } from "../parts/go.js";
import { page } from "../parts/page.js";
import { signInForm } from "../parts/signing.js";

const text = {
  title: "Sign in",
  lead: "Rimebook, the station's straw book.",
};

/** @param {import("../parts/page.js").Context} context */
export default async function signInPage({ query }) {
  const done = () => {
    if (person()) go(backFrom(query), { replace: true });
    else location.reload();
  };
  return page(
    { title: text.title, lead: text.lead, kind: "page-narrow" },
    el("div", { class: "card" }, signInForm({ done })),
  );
}
