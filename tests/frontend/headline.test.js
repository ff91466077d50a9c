/** What the card says that windows save: by the bill, and by what they leave in the battery. */

import assert from "node:assert/strict";
import { test } from "node:test";

import { worthOf } from "../../custom_components/chargehand/frontend/headline.js";

const texts = {
  t: (/** @type {string} */ key, /** @type {Record<string, unknown>} */ values = {}) =>
    [key, ...Object.values(values)].join(" "),
  money: (/** @type {number} */ amount, /** @type {string} */ currency) => `${amount} ${currency}`,
};

const COURSE = {
  ...{ start: "2026-11-26T20:00:00+00:00", step_minutes: 15, level: [], low: [], high: [], solar_kw: [], load_kw: [] },
  ...{ cost: 1, cost_without: 2, left_kwh: 0, wear_cost: 0, grid_charge_kwh: 0 },
};

/**
 * @param {number} saving
 * @param {number | null} left
 */
const worth = (saving, left) => worthOf({ ...COURSE, saving, left_gain: left }, texts, "GBP");

test("what windows save is named alone where they leave the battery as it would be", () => {
  assert.equal(worth(0.92, 0), "edit_saves 0.92 GBP");
  assert.equal(worth(0.92, null), "edit_saves 0.92 GBP");
  assert.equal(worth(-0.35, 0.004), "edit_costs_more 0.35 GBP");
});

test("a saving that is made by an emptier battery says so, and a bill that fills it", () => {
  assert.equal(worth(0.92, -0.3), "edit_left_less edit_saves 0.92 GBP 0.3 GBP");
  assert.equal(worth(-0.35, 0.5), "edit_left_more edit_costs_more 0.35 GBP 0.5 GBP");
});

test("less than half a penny costs nothing", () => {
  assert.equal(worth(-0.004, 0), "edit_saves 0.004 GBP");
});
