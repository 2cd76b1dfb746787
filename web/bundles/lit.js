// @ts-check
// What web/vendor/lit.js exports: the whole of lit that the desks use. Bundled by web/build_hook.py.
export { LitElement, css, html, noChange, nothing, svg, unsafeCSS } from "lit";
export { classMap } from "lit/directives/class-map.js";
export { guard } from "lit/directives/guard.js";
export { live } from "lit/directives/live.js";
export { createRef, ref } from "lit/directives/ref.js";
export { repeat } from "lit/directives/repeat.js";
export { styleMap } from "lit/directives/style-map.js";
export { when } from "lit/directives/when.js";
