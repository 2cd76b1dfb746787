// @ts-check
// Wires the page of sites and months.

import "../archive/months-desk.js";
import { whyNot } from "../debrief/debriefs.js";
import { lastYear } from "../archive/months.js";

const desk = /** @type {import("../archive/months-desk.js").MonthsDesk} */ (document.querySelector("months-desk"));
let question = 0;

/** Asks; an answer that another question has overtaken is left. @param {{from: string, to: string, at: string}} asked */
async function ask(asked) {
  const own = ++question;
  desk.asked = asked;
  try {
    const answer = await fetch(`/api/months?${new URLSearchParams(asked)}`);
    const told = await answer.json();
    if (!answer.ok) throw new Error(told.reason);
    if (own === question) [desk.found, desk.trouble] = [told, ""];
  } catch (error) {
    if (own === question) desk.trouble = whyNot(error);
  }
}

desk.addEventListener("ask", (event) => void ask(/** @type {CustomEvent} */ (event).detail));
await ask({ ...lastYear(new Date()), at: "" });
