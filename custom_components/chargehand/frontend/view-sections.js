/** The sections of an inverter's view: what stands where. An entity that is not there is left out, and so is an empty section. */

/** @import {Texts} from "./texts.js" */

/** @typedef {Record<string, unknown>} Card */
/** @typedef {Map<string, string>} Entities Entity ids by key. */

const WIDE = { columns: 12 };

/** A key, and how its tile differs from a plain one. @typedef {[string, Card?]} Row */

/** @type {Row[]} */
const NOW = [
  ["battery_level", { type: "gauge", min: 0, max: 100, grid_options: WIDE }],
  ["battery_power", { state_content: ["state", "direction"], grid_options: WIDE }],
  ["grid_power", { state_content: ["state", "direction"], grid_options: WIDE }],
  ["load_power"],
  ["solar_power"],
  ["inverter_state"],
  ["battery_state"],
  ["alarms"],
  ["charging_by_schedule", { grid_options: WIDE }],
  ["next_charge_start", { grid_options: WIDE }],
];

/** @type {Row[]} */
const NIGHTS = [
  ["planned_level"],
  ["planned_grid_energy"],
  ["expected_saving"],
  ["saving_earned"],
  ["order", { grid_options: WIDE }],
  ["last_night", { grid_options: WIDE }],
  ["plan_tonight", { hide_state: true, grid_options: WIDE }],
];

/** @type {Row[]} */
const LINE = [
  ["line_errors"],
  ["line_round_trip"],
  ["line_busy"],
  ["registers_written_today"],
  ["clock_offset"],
  ["set_clock", { hide_state: true }],
];

const CURVES = ["battery_power", "grid_power", "load_power", "solar_power"];

const SETTINGS = ["active", "start", "end", "power", "current", "stop_level"];

/** @typedef {{type: "grid", column_span?: number, cards: Card[]}} Section */

/**
 * Return the sections for an inverter.
 * @param {string} deviceId
 * @param {Entities} entities
 * @param {Texts} texts
 * @returns {Section[]}
 */
export function sections(deviceId, entities, texts) {
  /** @type {Section} */
  const day = { type: "grid", column_span: 3, cards: [{ type: "custom:chargehand-day", device_id: deviceId }] };
  return [
    day,
    section(texts.t("view_now"), "mdi:home-lightning-bolt", tiles(NOW, entities)),
    section(texts.t("view_windows"), "mdi:calendar-clock", windows(entities, texts)),
    section(texts.t("view_controls"), "mdi:tune", controls(entities)),
    section(texts.t("view_nights"), "mdi:weather-night", tiles(NIGHTS, entities)),
    section(texts.t("view_line"), "mdi:lan-connect", tiles(LINE, entities)),
    section(texts.t("view_curves"), "mdi:chart-line", curves(entities)),
  ].filter(({ cards }) => cards.length > 0);
}

/**
 * @param {string} heading
 * @param {string} icon
 * @param {Card[]} cards
 * @returns {Section}
 */
function section(heading, icon, cards) {
  return { type: "grid", cards: cards.length ? [{ type: "heading", heading, icon }, ...cards] : [] };
}

/**
 * @param {Row[]} rows
 * @param {Entities} entities
 * @returns {Card[]}
 */
function tiles(rows, entities) {
  return rows
    .filter(([key]) => entities.has(key))
    .map(([key, more]) => ({ type: "tile", entity: entities.get(key), name: { type: "entity" }, ...more }));
}

/**
 * Return how the schedule stands, and a card for each window that has entities.
 * @param {Entities} entities
 * @param {Texts} texts
 * @returns {Card[]}
 */
function windows(entities, texts) {
  const cards = [...entities.keys()]
    .map((key) => /^(charge|discharge)_window_(\d+)_start$/.exec(key))
    .filter((found) => found !== null)
    .map(([, side = "", number]) => ({ side, number: Number(number) }))
    .sort((one, other) => one.side.localeCompare(other.side) || one.number - other.number)
    .map(({ side, number }) => windowCard(side, number, entities, texts));
  return [...tiles([["schedule_status", { state_content: ["state", "when"], grid_options: WIDE }]], entities), ...cards];
}

/**
 * @param {string} side
 * @param {number} number
 * @param {Entities} entities
 * @param {Texts} texts
 * @returns {Card}
 */
function windowCard(side, number, entities, texts) {
  const rows = SETTINGS.map((setting) => ({ setting, entity: entities.get(`${side}_window_${number}_${setting}`) }));
  return {
    type: "entities",
    title: texts.t(`view_${side}_window`, { number }),
    show_header_toggle: false,
    entities: rows
      .filter(({ entity }) => entity !== undefined)
      .map(({ setting, entity }) => ({ entity, name: texts.t(`view_${setting}`) })),
  };
}

/**
 * Return the inverter's own settings that its map lets a user change.
 * @param {Entities} entities
 * @returns {Card[]}
 */
function controls(entities) {
  const rows = [...entities]
    .filter(([key, entity]) => /^(switch|select|number)\./.test(entity) && !/^(charge|discharge)_window_/.test(key))
    .map(([key]) => /** @type {Row} */ ([key]));
  return tiles(rows, entities);
}

/**
 * @param {Entities} entities
 * @returns {Card[]}
 */
function curves(entities) {
  const there = CURVES.map((key) => entities.get(key)).filter((entity) => entity !== undefined);
  return there.length ? [{ type: "history-graph", hours_to_show: 24, entities: there.map((entity) => ({ entity })) }] : [];
}
