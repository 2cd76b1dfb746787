// @ts-check
// What web/vendor/d3.js exports: the scale and the shapes of the charts. Bundled by web/build_hook.py.
export { scaleLinear } from "d3-scale";
export { area, line } from "d3-shape";
