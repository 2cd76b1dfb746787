// @ts-check
// What web/vendor/d3.js exports: scales, shapes, axes, zooming and the selection they work on. Bundled by web/build_hook.py.
export * from "d3-axis";
export * from "d3-scale";
export * from "d3-selection";
export * from "d3-shape";
export * from "d3-zoom";
