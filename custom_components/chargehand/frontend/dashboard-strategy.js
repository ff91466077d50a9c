/** The dashboard `custom:chargehand`: a view for each inverter, laid out from what it has. */

import { define } from "./elements.js";
import { entitiesByKey } from "./inverter-entities.js";
import { inverterOf, inverters, nameOf } from "./inverters.js";
import { loadTexts } from "./texts.js";
import { sections } from "./view-sections.js";

/** @import {Hass} from "./types.js" */

/** @typedef {{type: string, device_id?: string}} StrategyConfig */

/** @typedef {{type: string, strategyType: string, name: string, description: string}} CustomStrategy */

const TYPE = "custom:chargehand";

/** Lays out the dashboard. */
class DashboardStrategy extends HTMLElement {
  static registryDependencies = ["devices"];
  static noEditor = true;

  /**
   * Return what the page offers when the dashboard is added.
   * @param {Hass} hass
   */
  static async getCreateSuggestions(hass) {
    return { title: (await loadTexts(hass)).t("dashboard_title"), icon: "mdi:home-battery" };
  }

  /**
   * @param {StrategyConfig} config
   * @param {Hass} hass
   */
  static async generate({ device_id: deviceId }, hass) {
    const texts = await loadTexts(hass);
    const there = inverters(hass).filter(({ id }) => !deviceId || id === deviceId);
    if (there.length === 0) {
      const content = texts.t(deviceId ? "device_removed" : "no_inverter");
      return { views: [{ title: texts.t("dashboard_title"), cards: [{ type: "markdown", content }] }] };
    }
    return {
      views: there.map((device, at) => ({
        title: nameOf(device),
        path: at === 0 ? "battery" : `battery-${at + 1}`,
        icon: "mdi:home-battery",
        strategy: { type: TYPE, device_id: device.id },
      })),
    };
  }
}

/** Lays out the view of one inverter; without `device_id`, of the only one. */
class ViewStrategy extends HTMLElement {
  static registryDependencies = ["devices", "entities"];
  static noEditor = true;

  /**
   * @param {StrategyConfig} config
   * @param {Hass} hass
   */
  static async generate({ device_id: configured }, hass) {
    const texts = await loadTexts(hass);
    const found = inverterOf(hass, configured);
    if ("missing" in found) {
      // The card says so itself, as plain text: a name in a Markdown card would be a template.
      return { cards: [{ type: "custom:chargehand-day", ...(configured && { device_id: configured }) }] };
    }
    const { id } = found.device;
    const laidOut = sections(id, await entitiesByKey(hass, id), texts);
    return { type: "sections", max_columns: 3, dense_section_placement: true, sections: laidOut };
  }
}

/** Offer the dashboard where a user adds one. The list takes its words before any language is known. */
function registerStrategy() {
  const page = /** @type {{customStrategies?: CustomStrategy[]}} */ (/** @type {unknown} */ (window));
  const strategies = (page.customStrategies ??= []);
  if (!strategies.some(({ type }) => type === "chargehand")) {
    strategies.push({
      type: "chargehand",
      strategyType: "dashboard",
      name: "Home battery",
      description: "A view for each inverter: its day, what it does now, its charge windows, the nights and the line.",
    });
  }
}

define("ll-strategy-dashboard-chargehand", DashboardStrategy);
define("ll-strategy-view-chargehand", ViewStrategy);
registerStrategy();
