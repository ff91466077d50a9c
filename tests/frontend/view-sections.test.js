// The dashboard's view: made of what an inverter has, by key, whatever its entities are called.
import assert from "node:assert/strict";
import { test } from "node:test";

import { entitiesByKey } from "../../custom_components/chargehand/frontend/inverter-entities.js";
import { sections } from "../../custom_components/chargehand/frontend/view-sections.js";

/** @import {Hass} from "../../custom_components/chargehand/frontend/types.js" */
/** @import {Texts} from "../../custom_components/chargehand/frontend/texts.js" */

const texts = /** @type {Texts} */ (
  /** @type {unknown} */ ({
    t: (/** @type {string} */ key, /** @type {object} */ values = {}) => [key, ...Object.values(values)].join(" "),
  })
);

/** @param {unknown} view */
const used = (view) => [...JSON.stringify(view).matchAll(/"entity":"([^"]+)"/g)].map(([, entity]) => entity);

test("without entities there is the card alone", () => {
  assert.deepEqual(sections("an-id", new Map(), texts), [
    { type: "grid", column_span: 3, cards: [{ type: "custom:chargehand-day", device_id: "an-id" }] },
  ]);
});

test("renamed entities stand where their key belongs, and no section is empty", () => {
  const view = sections("an-id", new Map([["battery_level", "sensor.larder"], ["line_errors", "sensor.cable"]]), texts);
  assert.deepEqual(used(view), ["sensor.larder", "sensor.cable"]);
  assert.deepEqual(
    view.map(({ cards }) => cards[0].heading),
    [undefined, "view_now", "view_line"],
  );
});

test("windows come in their order, each with the settings that it has", () => {
  const entities = new Map([
    ["discharge_window_1_start", "time.d"],
    ["charge_window_10_start", "time.c10"],
    ["charge_window_2_start", "time.c2"],
    ["charge_window_2_power", "number.p2"],
  ]);
  const view = sections("an-id", entities, texts);
  const cards = view[1].cards.filter(({ type }) => type === "entities");
  assert.deepEqual(
    cards.map(({ title }) => title),
    ["view_charge_window 2", "view_charge_window 10", "view_discharge_window 1"],
  );
  assert.deepEqual(used(cards[0]), ["time.c2", "number.p2"]);
});

test("the map's own controls are a section of their own, without those of windows", () => {
  const entities = new Map([
    ["charge_window_1_active", "switch.w"],
    ["charge_window_1_start", "time.w"],
    ["backup_output", "switch.b"],
    ["running_mode", "select.m"],
  ]);
  const controls = sections("an-id", entities, texts).find(({ cards }) => cards[0].heading === "view_controls");
  assert.deepEqual(used(controls), ["switch.b", "select.m"]);
});

test("keys are those of unique ids; other devices', other integrations' and hidden entities are left out", async () => {
  const here = { device_id: "an-id", platform: "chargehand" };
  const all = [
    { ...here, entity_id: "sensor.larder" },
    { ...here, entity_id: "sensor.hidden", hidden: true },
    { ...here, entity_id: "sensor.template", platform: "template" },
    { ...here, entity_id: "sensor.other", device_id: "another" },
  ];
  /** @type {object[]} */
  const asked = [];
  const hass = /** @type {Hass} */ (
    /** @type {unknown} */ ({
      entities: Object.fromEntries(all.map((one) => [one.entity_id, one])),
      callWS: async (/** @type {object} */ message) => {
        asked.push(message);
        return { "sensor.larder": { entity_id: "sensor.larder", unique_id: "01ABC_battery_level", config_entry_id: "01ABC" } };
      },
    })
  );
  assert.deepEqual([...(await entitiesByKey(hass, "an-id"))], [["battery_level", "sensor.larder"]]);
  assert.deepEqual(asked, [{ type: "config/entity_registry/get_entries", entity_ids: ["sensor.larder"] }]);
});
