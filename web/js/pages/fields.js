// @ts-check
// Fields of forms that send nothing by themselves.

/** The field of a form that was sent; the page stays. @param {SubmitEvent} event @param {string} name @returns {HTMLInputElement | null} */
export function fieldOf(event, name) {
  event.preventDefault();
  const form = /** @type {HTMLFormElement} */ (event.currentTarget);
  const field = form.elements.namedItem(name);
  return field instanceof HTMLInputElement ? field : null;
}
