// What the card's modules are held to beyond their types. tsc knows of names that are not there, so no list of a browser's is kept here.
import { createRequire } from "node:module";

const js = createRequire(new URL("../../.work/javascript/", import.meta.url))("@eslint/js");

export default [
  js.configs.recommended,
  {
    languageOptions: { ecmaVersion: 2024, sourceType: "module" },
    linterOptions: { reportUnusedDisableDirectives: "error" },
    rules: {
      "no-undef": "off",
      curly: "error",
      eqeqeq: "error",
      "max-lines": ["error", 250],
      "no-console": "error",
      "no-else-return": "error",
      "no-implicit-coercion": "error",
      "no-shadow": "error",
      "no-var": "error",
      "object-shorthand": "error",
      "prefer-const": "error",
      "prefer-template": "error",
    },
  },
];
