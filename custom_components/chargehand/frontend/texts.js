/** The card's texts in the user's language, and numbers as the user writes them. */

import { formatMoney, formatNumber, formatPrice } from "./money.js";

/** @import {Hass, Locale, Localize} from "./types.js" */

const DOMAIN = "chargehand";

/** All that a part of the card needs to say something. */
export class Texts {
  #localize;
  #locale;

  /**
   * @param {Localize} localize
   * @param {Locale} locale
   */
  constructor(localize, locale) {
    this.#localize = localize;
    this.#locale = locale;
  }

  /** The user's language as a BCP 47 tag. */
  get language() {
    return this.#locale.language;
  }

  /**
   * Return a text of `config_panel.day` in the integration's translations.
   * @param {string} key
   * @param {Record<string, unknown>} [values] What is filled in.
   */
  t(key, values) {
    return this.#localize(`component.${DOMAIN}.config_panel.day.${key}`, values) || key;
  }

  /**
   * Return a number with so many decimals at most.
   * @param {number} value
   * @param {number} [decimals]
   */
  number(value, decimals = 0) {
    return formatNumber(value, this.#locale, decimals);
  }

  /**
   * @param {number} amount
   * @param {string} currency ISO 4217 code.
   */
  money(amount, currency) {
    return formatMoney(amount, currency, this.#locale);
  }

  /**
   * Return the price of 1 kWh.
   * @param {number} price
   * @param {string} currency ISO 4217 code.
   */
  price(price, currency) {
    return formatPrice(price, currency, this.#locale);
  }
}

/** @type {Map<string, Promise<Localize>>} By language, what the page was asked for. */
const asked = new Map();

/**
 * Load the texts, once for all cards of a page: the page answers whoever asks while they are on their way as if they were there.
 * @param {Hass} hass
 * @returns {Promise<Texts>}
 */
export async function loadTexts(hass) {
  let loaded = asked.get(hass.language);
  if (!loaded) {
    loaded = hass.loadBackendTranslation("config_panel", DOMAIN);
    asked.set(hass.language, loaded);
  }
  try {
    return new Texts(await loaded, hass.locale);
  } catch (fault) {
    asked.delete(hass.language);
    throw fault;
  }
}
