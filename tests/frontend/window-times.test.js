// Times as people type them, where a new window goes, and when windows act on days of 23 and 25 hours.
import assert from "node:assert/strict";
import { test } from "node:test";

import { hasPlace, newWindow } from "../../custom_components/chargehand/frontend/free-time.js";
import { HouseClock } from "../../custom_components/chargehand/frontend/house-clock.js";
import { occurrences } from "../../custom_components/chargehand/frontend/occurrences.js";
import { typedMinute } from "../../custom_components/chargehand/frontend/time-entry.js";

/** @import {Limits, Side, Window} from "../../custom_components/chargehand/frontend/types.js" */

const WINTER = { zone: "Europe/London", segments: [{ from: "2026-11-26T00:00:00Z", offset_minutes: 0 }] };
const HALF_DAYS = { language: "en-GB", time_format: "12", number_format: "language" };
const WHOLE_DAYS = { ...HALF_DAYS, time_format: "24" };

test("a time is understood as the user's clock writes it, and in the ways that people shorten it", () => {
  /** @type {[string, number | null][]} */
  const cases = [
    ["01:30", 90],
    ["1:30", 90],
    ["0130", 90],
    ["130", 90],
    ["1.30", 90],
    ["7", 420],
    ["13:30", 810],
    ["1:30 PM", 810],
    ["1.30pm", 810],
    ["1:30 p.m.", 810],
    ["12:00 am", 0],
    ["12 am", 0],
    ["12:15 PM", 735],
    ["24:00", 0],
    ["00:00", 0],
    ["13:30 PM", null],
    ["0:30 am", null],
    ["25:00", null],
    ["12:60", null],
    ["noon", null],
    ["", null],
    ["12:30 xm", null],
  ];
  for (const [typed, minute] of cases) {
    for (const locale of [HALF_DAYS, WHOLE_DAYS]) {
      assert.equal(typedMinute(typed, new HouseClock(WINTER, locale)), minute, typed);
    }
  }
});

test("every minute that the clock writes is read back, also in languages with words of their own for the halves of the day", () => {
  for (const language of ["en-US", "en-GB", "el", "ko", "es", "hu"]) {
    for (const time_format of ["12", "24"]) {
      const clock = new HouseClock(WINTER, { language, time_format, number_format: "language" });
      for (let minute = 0; minute < 1440; minute += 7) {
        const [hours, minutes] = [Math.floor(minute / 60), minute % 60].map((part) => String(part).padStart(2, "0"));
        const written = clock.written(`${hours}:${minutes}`);
        assert.equal(typedMinute(written, clock), minute, `${language}: ${written}`);
      }
    }
  }
});

const SIDE = { count: 3, stop_level: { min: 5, max: 100, step: 1 }, limit: { unit: /** @type {const} */ ("W"), min: 0, max: 5000, step: 10 } };
/** @type {Limits} */
const LIMITS = { step_minutes: 15, midnight: true, charge: SIDE, discharge: SIDE };
const NOON = Date.parse("2026-11-26T12:00:00Z");
const CLOCK = new HouseClock(WINTER, WHOLE_DAYS);

/** @param {string} start @param {string} end @param {number} buy */
const price = (start, end, buy) => ({ start: `2026-11-${start}:00Z`, end: `2026-11-${end}:00Z`, buy, sell: null });

const NIGHT_TARIFF = [
  price("26T00:00", "26T00:30", 0.3),
  price("26T00:30", "26T05:30", 0.02),
  price("26T05:30", "26T16:00", 0.3),
  price("26T16:00", "26T19:00", 0.4),
  price("26T19:00", "27T00:30", 0.3),
  price("27T00:30", "27T05:30", 0.1),
  price("27T05:30", "28T00:00", 0.3),
];

/**
 * @param {Side} side
 * @param {Window[]} charge
 * @param {typeof NIGHT_TARIFF} prices
 * @param {Partial<Limits>} [limits]
 */
function added(side, charge, prices, limits = {}) {
  const found = newWindow({ charge, discharge: [] }, side, { ...LIMITS, ...limits }, prices, CLOCK, NOON);
  return found && `${found.number} ${found.start}-${found.end} ${found.power} W ${found.stop_level} %`;
}

test("a new window takes the cheapest hours that are free", () => {
  assert.equal(added("charge", [], NIGHT_TARIFF), "1 00:30-05:30 5000 W 100 %");
  assert.equal(added("discharge", [], NIGHT_TARIFF), "1 16:00-19:00 5000 W 10 %");
  const early = { number: 1, start: "00:00", end: "02:00", power: 3000, stop_level: 60 };
  assert.equal(added("charge", [early], NIGHT_TARIFF), "2 02:00-05:30 3000 W 60 %");
  // Nothing cheap is left: the hour that comes, not the whole day at the usual price.
  const whole = { ...early, start: "00:30", end: "05:30" };
  assert.match(String(added("charge", [whole], NIGHT_TARIFF)), /^2 12:00-13:00 /);
});

test("a price that holds for most of the day is no reason for a window of most of the day", () => {
  const flat = [price("26T00:00", "28T00:00", 0.3)];
  assert.match(String(added("discharge", [], flat)), /^1 12:00-13:00 /);
  const odd = newWindow({ charge: [], discharge: [] }, "charge", { ...LIMITS, step_minutes: 1 }, flat, CLOCK, NOON + 9 * 60_000);
  assert.equal(odd?.start, "12:15");
});

test("cheap hours over midnight are one window where the inverter's windows can cross it", () => {
  const over = [price("26T00:00", "26T23:00", 0.3), price("26T23:00", "27T02:00", 0.1), price("27T02:00", "28T00:00", 0.3)];
  assert.equal(added("charge", [], over), "1 23:00-02:00 5000 W 100 %");
  assert.equal(added("charge", [], over, { midnight: false }), "1 00:00-02:00 5000 W 100 %");
});

test("without prices it takes the first free hour of the night, or what is free", () => {
  assert.equal(added("charge", [], []), "1 00:00-01:00 5000 W 100 %");
  const night = { number: 1, start: "23:00", end: "06:30", power: 3000, stop_level: 60 };
  assert.equal(added("charge", [night], []), "2 06:30-07:30 3000 W 60 %");
  assert.equal(added("charge", [{ ...night, start: "01:00", end: "00:15" }], []), "2 00:15-01:00 3000 W 60 %");
  assert.equal(added("charge", [{ ...night, start: "00:00", end: "24:00" }], []), null);
});

test("no more windows are added than the inverter has places", () => {
  const one = { number: 1, start: "01:00", end: "02:00" };
  const windows = { charge: [one, { ...one, start: "23:00", end: "00:30" }], discharge: [] };
  assert.ok(hasPlace(windows, "charge", LIMITS));
  // One over midnight takes two places there.
  assert.ok(!hasPlace(windows, "charge", { ...LIMITS, midnight: false }));
  assert.ok(!hasPlace(windows, "charge", { ...LIMITS, charge: { ...SIDE, count: 2 } }));
  assert.ok(!hasPlace(windows, "charge", { ...LIMITS, charge: null }));
});

test("windows act by the house's clock, also on days of 23 and 25 hours", () => {
  // Summer time ends and begins at 01:00 UTC (Directive 2000/84/EC, articles 2 and 3; the dates are the last Sundays of October and March).
  const autumn = {
    zone: "Europe/London",
    segments: [
      { from: "2026-10-24T12:00:00Z", offset_minutes: 60 },
      { from: "2026-10-25T01:00:00Z", offset_minutes: 0 },
    ],
  };
  const spring = {
    zone: "Europe/London",
    segments: [
      { from: "2027-03-27T12:00:00Z", offset_minutes: 0 },
      { from: "2027-03-28T01:00:00Z", offset_minutes: 60 },
    ],
  };
  const acting = (/** @type {typeof autumn} */ data, /** @type {string} */ start, /** @type {string} */ end) => {
    const first = /** @type {{from: string}} */ (data.segments[0]).from;
    const band = { start: first, end: new Date(Date.parse(first) + 24 * 3_600_000).toISOString() };
    const windows = { charge: [{ number: 1, start, end, power: 2500, stop_level: 80 }], discharge: [] };
    return occurrences(windows, band, new HouseClock(data, WHOLE_DAYS)).map((one) => `${one.start.slice(5, 16)} ${one.end.slice(5, 16)}`);
  };
  assert.deepEqual(acting(autumn, "00:30", "04:30"), ["10-24T23:30 10-25T04:30"]);
  assert.deepEqual(acting(spring, "00:30", "04:30"), ["03-28T00:30 03-28T03:30"]);
  // The clock shows 01:30 to 02:00, then 01:00 again.
  assert.deepEqual(acting(autumn, "01:30", "02:30"), ["10-25T00:30 10-25T01:00", "10-25T01:30 10-25T02:30"]);
  // What lies in the hour that is skipped never comes.
  assert.deepEqual(acting(spring, "01:15", "01:45"), []);
  // Cut off by the band on both sides.
  assert.deepEqual(acting(autumn, "12:00", "14:00"), ["10-24T12:00 10-24T13:00"]);
});
