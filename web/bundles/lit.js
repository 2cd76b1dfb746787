// @ts-check
// What web/vendor/lit.js exports: the whole of lit that the desks use. Bundled by web/build_hook.py.
export { LitElement, css, html, nothing, svg } from "lit";
export { repeat } from "lit/directives/repeat.js";
