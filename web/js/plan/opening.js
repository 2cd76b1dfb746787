// @ts-check
// A new plan: begun with something, or with a file that was dropped. It is on its own page until it is saved.

import { whyNot } from "../debrief/debriefs.js";
import { beginAddress } from "./address.js";
import { keepUnsaved, tabShelf, unsavedOf } from "./keeping.js";
import { planFrom } from "./words.js";

/** @param {"empty" | "example"} kind */
export function beginWith(kind) {
  keepUnsaved(tabShelf(), newKey(kind), null);
  location.assign(beginAddress(kind));
}

/** Opens a file as a new plan; why it is none, else nothing. @param {File[]} files */
export async function openFile(files) {
  try {
    const { name, text } = await planFrom(files);
    const tab = tabShelf();
    keepUnsaved(tab, newKey("file"), { text, base: "", name });
    if (unsavedOf(tab, newKey("file")) === null) {
      return "This browser keeps nothing for this page, so no file can be opened here. Put it into the folder of the plans.";
    }
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
  const tab = tabShelf();
  return /** @type {const} */ (["empty", "example", "file"]).filter((kind) => unsavedOf(tab, newKey(kind)) !== null);
}
