/** An inverter's entities by their key, however a user may have renamed them. */

/** @import {Entity, Hass} from "./types.js" */

/** @typedef {{entity_id: string, unique_id: string, config_entry_id: string}} RegistryEntry */

/**
 * Return the entity ids of an inverter by key: "battery_level", "charge_window_1_start". Disabled and hidden ones are left out.
 * @param {Hass} hass
 * @param {string} deviceId
 * @returns {Promise<Map<string, string>>}
 */
export async function entitiesByKey(hass, deviceId) {
  const shown = Object.values(hass.entities).filter((entity) => belongs(entity, deviceId));
  /** @type {Record<string, RegistryEntry | null>} */
  const entries = shown.length
    ? await hass.callWS({ type: "config/entity_registry/get_entries", entity_ids: shown.map(({ entity_id: id }) => id) })
    : {};
  return new Map(
    Object.values(entries)
      .filter((entry) => entry !== null)
      .map(({ entity_id: id, unique_id: unique, config_entry_id: entry }) => [unique.replace(`${entry}_`, ""), id]),
  );
}

/**
 * @param {Entity} entity
 * @param {string} deviceId
 */
function belongs({ device_id: device, platform, hidden }, deviceId) {
  return device === deviceId && platform === "chargehand" && !hidden;
}
