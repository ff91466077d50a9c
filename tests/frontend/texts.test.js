// The card's texts, which the page loads: once for all cards, and again after they did not come.
import assert from "node:assert/strict";
import { test } from "node:test";

import { loadTexts } from "../../custom_components/chargehand/frontend/texts.js";

/** @import {Hass} from "../../custom_components/chargehand/frontend/types.js" */

/**
 * A page that answers whoever asks while texts are on their way with what it has: nothing, as Home Assistant does.
 * @param {string} language
 */
function page(language) {
  let asked = 0;
  let fails = false;
  /** @type {(() => void)[]} */
  const waiting = [];
  const loadBackendTranslation = async () => {
    asked += 1;
    if (fails) {
      throw new Error("not connected");
    }
    if (asked > 1) {
      return () => "";
    }
    await new Promise((resolve) => waiting.push(() => resolve(null)));
    return (/** @type {string} */ key) => `${language} ${key.split(".").at(-1)}`;
  };
  const hass = /** @type {Hass} */ (/** @type {unknown} */ ({ language, locale: { language }, loadBackendTranslation }));
  return { hass, fail: (/** @type {boolean} */ on) => (fails = on), arrive: () => waiting.splice(0).forEach((one) => one()), asked: () => asked };
}

test("two cards on one page both have their texts", async () => {
  const { hass, arrive, asked } = page("en");
  const both = [loadTexts(hass), loadTexts(hass)];
  arrive();
  assert.deepEqual(
    (await Promise.all(both)).map((texts) => texts.t("edit_apply")),
    ["en edit_apply", "en edit_apply"],
  );
  assert.equal(asked(), 1);
});

test("texts that did not come are asked for again", async () => {
  const { hass, fail, asked } = page("de");
  fail(true);
  await assert.rejects(loadTexts(hass));
  fail(false);
  await loadTexts(hass);
  assert.equal(asked(), 2);
});
