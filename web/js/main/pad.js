// @ts-check
// Wires the pad: one feed, one outbox, one element.

import "../elements/pad-desk.js";
import { followRun } from "../follow.js";
import { Outbox } from "../outbox.js";

const NAME_KEPT = "festoon.by";

const desk = /** @type {import("../elements/pad-desk.js").PadDesk} */ (document.querySelector("pad-desk"));

/** @type {import("../feed.js").Feed | null} */
let feed = null;
const outbox = new Outbox(
  (event) => feed?.sendEvent(event) ?? false,
  () => (desk.taps = outbox.taps),
);

desk.by = localStorage.getItem(NAME_KEPT) ?? "";
desk.addEventListener("named", (event) => localStorage.setItem(NAME_KEPT, /** @type {CustomEvent<string>} */ (event).detail));
desk.addEventListener("observe", (event) => {
  if (feed?.state) outbox.tap(/** @type {CustomEvent} */ (event).detail, feed.state.info.zero, feed.now_s());
});

feed = await followRun(desk, {
  onOpen: () => outbox.sendAll(),
  onAnswer: (answer) => outbox.hear(answer),
  onState: () => outbox.see(feed?.state?.events ?? []),
});
