/** Amounts of money and other numbers, written as the user's profile has them. */

/** @import {Locale} from "./types.js" */

/** Languages that write numbers in the way a profile may ask for. @type {Record<string, string>} */
const WRITTEN_AS = { comma_decimal: "en-US", decimal_comma: "de", space_comma: "fr", quote_decimal: "de-CH" };

/**
 * Return the language tag by which numbers are written, undefined for the browser's own.
 * @param {Locale} locale
 */
export function numberLanguage({ language, number_format: format }) {
  return format === "system" ? undefined : (WRITTEN_AS[format] ?? language);
}

/**
 * Return a number with so many decimals at most.
 * @param {number} value
 * @param {Locale} locale
 * @param {number} [decimals]
 */
export function formatNumber(value, locale, decimals = 0) {
  const useGrouping = locale.number_format !== "none";
  return new Intl.NumberFormat(numberLanguage(locale), { maximumFractionDigits: decimals, useGrouping }).format(
    withoutMinusZero(value, decimals),
  );
}

/**
 * Return an amount in a currency with the decimals that it is counted in.
 * @param {number} amount
 * @param {string} currency ISO 4217 code.
 * @param {Locale} locale
 */
export function formatMoney(amount, currency, locale) {
  return inCurrency(amount, currency, locale, {});
}

/**
 * Return a price of 1 kWh. It gets up to two decimals more than money has: unit prices are told in fractions of a penny.
 * @param {number} price
 * @param {string} currency ISO 4217 code.
 * @param {Locale} locale
 */
export function formatPrice(price, currency, locale) {
  const decimals = decimalsOf(currency);
  return inCurrency(price, currency, locale, {
    minimumFractionDigits: decimals,
    maximumFractionDigits: decimals + 2,
  });
}

/**
 * @param {number} amount
 * @param {string} currency
 * @param {Locale} locale
 * @param {Intl.NumberFormatOptions} options
 */
function inCurrency(amount, currency, locale, options) {
  const decimals = options.maximumFractionDigits ?? decimalsOf(currency);
  const value = withoutMinusZero(amount, decimals);
  const useGrouping = locale.number_format !== "none";
  if (!known(currency)) {
    return `${formatNumber(value, locale, decimals)} ${currency}`.trim();
  }
  return new Intl.NumberFormat(numberLanguage(locale), {
    style: "currency",
    currency,
    currencyDisplay: "narrowSymbol",
    useGrouping,
    ...options,
  }).format(value);
}

/**
 * Whether the currency is a code that a browser takes: it raises an error for others.
 * @param {string} currency
 */
function known(currency) {
  return /^[A-Za-z]{3}$/.test(currency);
}

/** @param {string} currency */
function decimalsOf(currency) {
  if (!known(currency)) {
    return 2;
  }
  return new Intl.NumberFormat("en", { style: "currency", currency }).resolvedOptions().maximumFractionDigits ?? 2;
}

/**
 * Return 0 for what would be written as minus zero.
 * @param {number} value
 * @param {number} decimals
 */
function withoutMinusZero(value, decimals) {
  return Math.abs(value) * 10 ** decimals < 0.5 ? 0 : value;
}
