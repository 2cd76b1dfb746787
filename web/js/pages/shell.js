// @ts-check
// A page's own copy of its files, so that it loads without a connection (a service worker).

/** @typedef {"kept" | "fetching" | "none"} ShellState `none` where the browser keeps no copy: it asks for TLS, or for this computer */

const WORKER = "/booth-worker.js";

/** The one address of a script that this page makes itself: Trusted Types ask that it be named. */
const address = /** @type {any} */ (window).trustedTypes?.createPolicy("booth-shell", { createScriptURL: () => WORKER }).createScriptURL("") ?? WORKER;

/**
 * Has the files kept and brought up to date; a newer copy that takes over loads the page again.
 * @param {(state: ShellState) => void} told @param {"/booth" | "/threading"} [page]
 */
export async function keepShell(told, page = "/booth") {
  const container = navigator.serviceWorker;
  if (!container) return told("none");
  const older = container.controller !== null;
  container.addEventListener("controllerchange", () => older && location.reload());
  told(older ? "kept" : "fetching");
  try {
    await container.register(address, { scope: page });
    await container.ready;
    told("kept");
  } catch {
    if (!older) told("none"); // the server is away, or the browser refuses
  }
}
