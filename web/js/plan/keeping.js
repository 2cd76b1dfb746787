// @ts-check
// What is changed and not saved outlives a reload: this tab keeps it.

/** @typedef {{text: string, base: string, name: string}} Unsaved `base` names the text that was changed, `name` is that of a file that was opened */

/** @typedef {Pick<Storage, "getItem" | "setItem" | "removeItem">} Shelf */

/** What this tab keeps; a browser that forbids it keeps nothing. @returns {Shelf} */
export function tabShelf() {
  try {
    return sessionStorage;
  } catch {
    return { getItem: () => null, setItem: () => {}, removeItem: () => {} };
  }
}

/** @param {string} key a plan's name, or what a new one began with @returns {string} */
function place(key) {
  return `festoon.plan.${key}`;
}

/** @param {Shelf} shelf @param {string} key @param {Unsaved | null} unsaved null forgets */
export function keepUnsaved(shelf, key, unsaved) {
  try {
    if (unsaved) shelf.setItem(place(key), JSON.stringify(unsaved));
    else shelf.removeItem(place(key));
  } catch {
    // A full or forbidden store: the page itself still has it.
  }
}

/** @param {Shelf} shelf @param {string} key @returns {Unsaved | null} */
export function unsavedOf(shelf, key) {
  try {
    const kept = JSON.parse(shelf.getItem(place(key)) ?? "null");
    return typeof kept?.text === "string" && typeof kept.base === "string" ? { text: kept.text, base: kept.base, name: String(kept.name ?? "") } : null;
  } catch {
    return null;
  }
}
