// Amounts as a profile asks for them; what a currency's smallest unit is, is from ISO 4217's list of minor units (from memory).
import assert from "node:assert/strict";
import { test } from "node:test";

import { formatMoney, formatNumber, formatPrice } from "../../custom_components/chargehand/frontend/money.js";

const BRITISH = { language: "en-GB", time_format: "language", number_format: "language" };
const plain = (/** @type {string} */ written) => written.replaceAll(/\s/g, " ");

test("an amount has the decimals that its currency is counted in", () => {
  assert.equal(formatMoney(1.8741, "GBP", BRITISH), "£1.87");
  assert.equal(formatMoney(187.41, "JPY", BRITISH), "¥187");
  assert.equal(formatMoney(1.8741, "KWD", BRITISH).replaceAll(/[^0-9.]/g, ""), "1.874");
});

test("an amount below zero keeps its sign, and nothing is minus nothing", () => {
  assert.equal(formatMoney(-0.756, "GBP", BRITISH), "-£0.76");
  assert.equal(formatMoney(-0.001, "GBP", BRITISH), "£0.00");
  assert.equal(formatNumber(-0.4, BRITISH), "0");
});

test("a price of 1 kWh shows fractions of the smallest coin where it has them", () => {
  assert.equal(formatPrice(0.0925, "GBP", BRITISH), "£0.0925");
  assert.equal(formatPrice(0.3, "GBP", BRITISH), "£0.30");
});

test("numbers are written as the profile asks, not as the language does", () => {
  const asked = (/** @type {string} */ format) => plain(formatNumber(12345.6, { ...BRITISH, number_format: format }, 1));
  assert.equal(asked("comma_decimal"), "12,345.6");
  assert.equal(asked("decimal_comma"), "12.345,6");
  assert.equal(asked("space_comma"), "12 345,6");
  // Which of the two marks it is depends on the engine's CLDR.
  assert.match(asked("quote_decimal"), /^12['’]345\.6$/);
  assert.equal(asked("none"), "12345.6");
  assert.equal(plain(formatMoney(1.5, "EUR", { ...BRITISH, number_format: "decimal_comma" })), "1,50 €");
});

test("what is no code of a currency is written behind the number", () => {
  assert.equal(formatMoney(1.5, "pence", BRITISH), "1.5 pence");
  assert.equal(formatMoney(1.5, "", BRITISH), "1.5");
});
