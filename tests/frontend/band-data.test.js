// What the picture makes of a day, held against values worked out by hand.
import assert from "node:assert/strict";
import { test } from "node:test";

import { layOut } from "../../custom_components/chargehand/frontend/band-layout.js";
import { vessels } from "../../custom_components/chargehand/frontend/band-windows.js";
import { expectedLevel, pastLevel, priceRuns, ranks, stepAt, valueAt } from "../../custom_components/chargehand/frontend/courses.js";
import { HouseClock } from "../../custom_components/chargehand/frontend/house-clock.js";
import { TimeScale, ValueScale } from "../../custom_components/chargehand/frontend/scale.js";
import { handleBoxes, shapeOf } from "../../custom_components/chargehand/frontend/vessel-shape.js";

/** @import {Day, Occurrence, Price} from "../../custom_components/chargehand/frontend/types.js" */

const MINUTE = 60_000;
const NOON = Date.parse("2026-11-26T12:00:00Z");
const LOCALE = { language: "en-GB", time_format: "language", number_format: "language" };
const CLOCK = new HouseClock({ zone: "Europe/London", segments: [{ from: "2026-11-26T12:00:00Z", offset_minutes: 0 }] }, LOCALE);

/**
 * @param {number[]} buys Prices of hours from noon.
 * @returns {Price[]}
 */
const hourly = (buys) =>
  buys.map((buy, hour) => ({
    start: new Date(NOON + hour * 60 * MINUTE).toISOString(),
    end: new Date(NOON + (hour + 1) * 60 * MINUTE).toISOString(),
    buy,
    sell: null,
  }));

/**
 * @param {string} start
 * @param {string} end
 * @param {Partial<Occurrence>} [more]
 * @returns {Occurrence}
 */
const acting = (start, end, more = {}) => ({ side: "charge", number: 1, start, end, stop_level: 80, power_kw: 2, ...more });

/**
 * @param {object} parts
 * @returns {Day}
 */
const dayOf = (parts) =>
  /** @type {Day} */ (
    /** @type {unknown} */ ({
      band: { start: "2026-11-26T12:00:00Z", end: "2026-11-28T00:00:00Z" },
      ...{ held: null, draft: null, foreign: null, acting: { held: [], draft: null }, ...parts },
    })
  );

test("means are drawn in the middle of their steps, and the last level stands until now for an hour", () => {
  const past = { start: "2026-11-26T12:00:00Z", step_minutes: 10, level: [50, null, 40], solar_kw: [], load_kw: [] };
  const now = NOON + 40 * MINUTE;
  assert.deepEqual(pastLevel(past, now), [[NOON + 5 * MINUTE, 50], [NOON + 15 * MINUTE, null], [NOON + 25 * MINUTE, 40], [now, 40]]);
  assert.equal(pastLevel(past, now + 60 * MINUTE).length, 3);
  // Two steps of the last 20 minutes are not recorded yet: no gap. The older one stays one.
  const late = { ...past, level: [50, null, 40, null, 38, null] };
  const values = pastLevel(late, NOON + 60 * MINUTE).map(([at, value]) => [(at - NOON) / MINUTE, value]);
  assert.deepEqual(values, [[5, 50], [15, null], [25, 40], [35, null], [45, 38], [60, 38]]);
});

test("what was just read is the level now, also in the first half of the step that has begun", () => {
  const past = { start: "2026-11-26T12:00:00Z", step_minutes: 5, level: [null, null, 36], solar_kw: [], load_kw: [] };
  const now = NOON + 11 * MINUTE;
  assert.equal(valueAt(pastLevel(past, now), now), 36);
});

test("an expected level begins at what is known now and is told for the ends of its steps", () => {
  const course = {
    ...{ start: "2026-11-26T12:00:00Z", step_minutes: 15, level: [60, 70], low: [58, 65], high: [62, 75], solar_kw: [], load_kw: [] },
    ...{ cost: null, cost_without: null, saving: null, left_kwh: null, left_gain: null, wear_cost: null, grid_charge_kwh: null },
  };
  const level = expectedLevel(course, "level", 50);
  assert.deepEqual(level, [[NOON, 50], [NOON + 15 * MINUTE, 60], [NOON + 30 * MINUTE, 70]]);
  assert.equal(valueAt(level, NOON + 5 * MINUTE), 50 + 10 / 3);
  assert.equal(valueAt(level, NOON + 31 * MINUTE), null);
  assert.deepEqual(expectedLevel(course, "high", null)[0], [NOON, 60]);
  // 20 minutes on, 55 % are known: what was expected for earlier moments is not drawn.
  const later = NOON + 20 * MINUTE;
  assert.deepEqual(expectedLevel(course, "level", 55, later), [[later, 55], [NOON + 30 * MINUTE, 70]]);
});

test("between two values one is read in proportion, beside a gap none is", () => {
  /** @type {[number, number | null][]} */
  const values = [[0, 10], [10, 20], [20, null], [30, 5]];
  assert.deepEqual([0, 4, 15, 25, 30].map((at) => valueAt(values, at)), [10, 14, null, null, 5]);
  const steps = { start: "2026-11-26T12:00:00Z", step_minutes: 30 };
  assert.deepEqual([-1, 0, 29, 30, 60].map((at) => stepAt(steps, [1, 2], NOON + at * MINUTE)), [null, 1, 1, 2, null]);
});

test("the lowest and highest quarter of the prices' range are told apart, a flat tariff has none", () => {
  assert.deepEqual(ranks(hourly([0.1, 0.2, 0.3, 0.4, 0.5])), ["cheap", "cheap", "usual", "expensive", "expensive"]);
  assert.deepEqual(ranks(hourly([0.26, 0.26])), ["usual", "usual"]);
  assert.deepEqual(ranks(hourly([0.26, 0.27])), ["usual", "usual"]);
  assert.deepEqual(ranks(hourly([-0.05, 0.25])), ["cheap", "expensive"]);
});

test("equal prices beside each other are one", () => {
  const runs = priceRuns(hourly([0.1, 0.1, 0.3, 0.1]));
  assert.deepEqual(runs.map(({ from, to, buy }) => [(from - NOON) / MINUTE, (to - NOON) / MINUTE, buy]), [[0, 120, 0.1], [120, 180, 0.3], [180, 240, 0.1]]);
});

test("a draft's new times are drafted, those that the inverter still has are replaced, and the rest is held", () => {
  const held = { charge: [{ number: 1, start: "00:30", end: "04:30", stop_level: 90 }], discharge: [{ number: 1, start: "17:00", end: "19:00" }], armed: true };
  const draft = { charge: [{ number: 1, start: "00:30", end: "03:30", stop_level: 80 }], discharge: held.discharge, by: "Ada", since: "", applied_at: null, reasons: [] };
  const evening = acting("2026-11-26T17:00:00Z", "2026-11-26T19:00:00Z", { side: "discharge" });
  const day = dayOf({
    ...{ held, draft },
    acting: {
      held: [evening, acting("2026-11-27T00:30:00Z", "2026-11-27T04:30:00Z", { stop_level: 90 })],
      draft: [evening, acting("2026-11-27T00:30:00Z", "2026-11-27T03:30:00Z")],
    },
  });
  const found = vessels(day, null, null, CLOCK, NOON).map(({ side, kind, stop }) => [side, kind, stop]);
  assert.deepEqual(found, [["charge", "replaced", 90], ["discharge", "held", 80], ["charge", "drafted", 80]]);
});

test("what is over was as the inverter holds it, not as the draft says, except for what is in hand", () => {
  const held = { charge: [], discharge: [], armed: true };
  const draft = { charge: [{ number: 1, start: "13:00", end: "14:00" }], discharge: [], by: "Ada", since: "", applied_at: null, reasons: [] };
  const times = [acting("2026-11-26T13:00:00Z", "2026-11-26T14:00:00Z"), acting("2026-11-27T13:00:00Z", "2026-11-27T14:00:00Z")];
  const day = dayOf({ held, draft, acting: { held: [], draft: times } });
  const later = NOON + 180 * MINUTE;
  assert.deepEqual(vessels(day, null, null, CLOCK, later).map(({ from }) => new Date(from).getUTCDate()), [27]);
  const inHand = vessels(day, null, { side: "charge", number: 1 }, CLOCK, later);
  assert.deepEqual(inHand.map(({ next, key }) => [next, key]), [[false, "charge-1-1"], [true, "charge-1-2"]]);
});

test("what somebody else put onto the inverter is told apart, and so is what it replaced", () => {
  const theirs = { charge: [{ number: 1, start: "00:30", end: "04:30" }], discharge: [], armed: true };
  const mine = { charge: [{ number: 1, start: "01:00", end: "05:00" }], discharge: [] };
  const foreign = { mine, theirs, changes: [], since: "2026-11-26T11:00:00Z" };
  const day = dayOf({ held: theirs, foreign, acting: { held: [acting("2026-11-27T00:30:00Z", "2026-11-27T04:30:00Z")], draft: null } });
  const found = vessels(day, null, null, CLOCK, NOON).map(({ kind, from, to }) => [kind, CLOCK.time(from), CLOCK.time(to)]);
  assert.deepEqual(found, [["replaced", "01:00", "05:00"], ["elsewhere", "00:30", "04:30"]]);
});

test("every handle is 44 pixels wide and high and none covers another, also at 5 minutes and at a low stop level", () => {
  const layout = layOut(1000, 36, { prices: true, energy: true });
  const time = new TimeScale(NOON, NOON + 36 * 60 * MINUTE, layout.width);
  const level = new ValueScale(0, 100, layout.level.bottom, layout.level.top);
  for (const side of /** @type {const} */ (["charge", "discharge"])) {
    for (const [minutes, stop] of [[5, 80], [60, 50], [240, 100], [240, 11], [30, 10]]) {
      const from = NOON + 600 * MINUTE;
      const vessel = { key: "", kind: /** @type {const} */ ("held"), side, number: 1, from, to: from + (minutes ?? 0) * MINUTE, stop: stop ?? 0, power: null, next: true };
      const boxes = Object.values(handleBoxes(shapeOf(vessel, time, level), side, layout));
      for (const [index, box] of boxes.entries()) {
        assert.ok(box.width >= 43.999 && box.height >= 43.999, JSON.stringify({ side, minutes, stop, box }));
        for (const other of boxes.slice(index + 1)) {
          const apartX = box.x + box.width <= other.x + 0.001 || other.x + other.width <= box.x + 0.001;
          const apartY = box.y + box.height <= other.y + 0.001 || other.y + other.height <= box.y + 0.001;
          assert.ok(apartX || apartY, JSON.stringify({ side, minutes, stop, box, other }));
        }
      }
    }
  }
});
