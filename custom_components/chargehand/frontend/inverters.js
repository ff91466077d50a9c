/** The inverters that the page knows of, and the one that a card is for. */

/** @import {Device, Hass} from "./types.js" */

const DOMAIN = "chargehand";

/**
 * Return the integration's inverters by name.
 * @param {Hass} hass
 * @returns {Device[]}
 */
export function inverters(hass) {
  return Object.values(hass.devices)
    .filter(({ identifiers }) => identifiers.some(([domain]) => domain === DOMAIN))
    .sort((one, other) => nameOf(one).localeCompare(nameOf(other), hass.language));
}

/** @param {Device} device */
export function nameOf(device) {
  return device.name_by_user || device.name || "";
}

/**
 * Return the inverter of a card, or the key of the text that says why there is none.
 * @param {Hass} hass
 * @param {string | undefined} deviceId What the card's configuration names.
 * @returns {{device: Device} | {missing: "no_inverter" | "device_removed" | "choose_inverter"}}
 */
export function inverterOf(hass, deviceId) {
  const there = inverters(hass);
  if (deviceId) {
    const device = there.find(({ id }) => id === deviceId);
    return device ? { device } : { missing: "device_removed" };
  }
  const [only] = there;
  if (!only) {
    return { missing: "no_inverter" };
  }
  return there.length === 1 ? { device: only } : { missing: "choose_inverter" };
}
