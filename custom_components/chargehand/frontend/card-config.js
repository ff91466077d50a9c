/** How a user adds and sets up the card. */

import { inverters } from "./inverters.js";

/** @import {Hass, Localize} from "./types.js" */

/** @typedef {{type: string, device_id?: string}} CardConfig */

/**
 * @typedef {{type: string, name: string, description: string, preview: boolean, documentationURL: string,
 *   getEntitySuggestion: (hass: Hass, entityId: string) => {config: CardConfig} | null}} CustomCard
 */

/** Offer the card in the page's card picker. The picker takes its words before any language is known. */
export function registerCard() {
  const page = /** @type {{customCards?: CustomCard[]}} */ (/** @type {unknown} */ (window));
  const cards = (page.customCards ??= []);
  if (!cards.some(({ type }) => type === "chargehand-day")) {
    cards.push({
      type: "chargehand-day",
      name: "Battery day",
      description: "Prices, battery, solar and house around now, and the charge windows to change.",
      preview: true,
      documentationURL: "https://chargehand.example/docs/dashboard",
      getEntitySuggestion: suggestion,
    });
  }
}

/**
 * Return the card for somebody who begins with an entity of an inverter.
 * @param {Hass} hass
 * @param {string} entityId
 */
function suggestion(hass, entityId) {
  const { platform, device_id: device } = hass.entities[entityId] ?? {};
  return platform === "chargehand" && device ? { config: { type: "custom:chargehand-day", device_id: device } } : null;
}

/**
 * Return a configuration that works at once.
 * @param {Hass} hass
 * @returns {{device_id?: string}}
 */
export function stubConfig(hass) {
  const [first] = inverters(hass);
  return first ? { device_id: first.id } : {};
}

/** Return the form of the visual editor. */
export function configForm() {
  return {
    schema: [{ name: "device_id", selector: { device: { filter: [{ integration: "chargehand" }] } } }],
    // The texts are there by then: the editor shows the card itself beside its form.
    computeLabel: (/** @type {{name: string}} */ field, /** @type {Localize} */ localize) => text(field, "label", localize),
    computeHelper: (/** @type {{name: string}} */ field, /** @type {Localize} */ localize) => text(field, "help", localize),
  };
}

/**
 * @param {{name: string}} field
 * @param {string} kind
 * @param {Localize} localize
 */
function text({ name }, kind, localize) {
  return localize(`component.chargehand.config_panel.day.config_${name}_${kind}`) || undefined;
}
