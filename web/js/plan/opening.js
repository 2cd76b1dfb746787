// @ts-check
// A new plan: begun with something, or with a file that was dropped. It is on its own page until it is saved.

import { whyNot } from "../debriefs.js";
import { beginAddress } from "./address.js";
import { keepUnsaved, unsavedOf } from "./keeping.js";
import { planFrom } from "./words.js";

/** @param {"empty" | "example"} kind */
export function beginWith(kind) {
  keepUnsaved(sessionStorage, newKey(kind), null);
  location.assign(beginAddress(kind));
}

/** Opens a file as a new plan; why it is none, else nothing. @param {File[]} files */
export async function openFile(files) {
  try {
    const { name, text } = await planFrom(files);
    keepUnsaved(sessionStorage, newKey("file"), { text, base: "", name });
    location.assign(beginAddress("file"));
    return "";
  } catch (error) {
    return whyNot(error);
  }
}

/** What this tab keeps a new plan by. @param {"empty" | "example" | "file"} kind */
export function newKey(kind) {
  return `new ${kind}`;
}

/** What new plans this tab has begun and not saved. @returns {("empty" | "example" | "file")[]} */
export function begunHere() {
  return /** @type {const} */ (["empty", "example", "file"]).filter((kind) => unsavedOf(sessionStorage, newKey(kind)) !== null);
}
