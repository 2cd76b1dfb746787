// @ts-check
import js from "@eslint/js";
import { configs as lit } from "eslint-plugin-lit";
import globals from "globals";

// Run from the folder of the checkout, so that tests/web is linted with web/.
export default [
  { ignores: ["web/vendor/", "web/node_modules/"] },
  js.configs.recommended,
  lit["flat/recommended"],
  {
    linterOptions: { reportUnusedDisableDirectives: "error" },
    rules: {
      curly: ["error", "multi-line"],
      eqeqeq: "error",
      "no-eval": "error",
      "no-implied-eval": "error",
      "no-restricted-properties": [
        "error",
        { property: "innerHTML", message: "Text goes in by textContent or a lit binding." },
        { property: "outerHTML", message: "Text goes in by textContent or a lit binding." },
        { property: "insertAdjacentHTML", message: "Text goes in by textContent or a lit binding." },
      ],
      "no-shadow": "error",
      "no-var": "error",
      "prefer-const": "error",
    },
  },
  { files: ["tests/web/**/*.js"], languageOptions: { globals: globals.node } },
  {
    files: ["web/js/**/*.js"],
    languageOptions: { globals: globals.browser },
    rules: {
      "no-restricted-imports": [
        "error",
        // The browser resolves no bare names: what is third-party is in vendor/.
        { patterns: [{ regex: "^[^./]", message: "Import from ../vendor/lit.js or ../vendor/d3.js." }] },
      ],
    },
  },
];
