// Edits of windows, held against cases worked by hand.
import assert from "node:assert/strict";
import { test } from "node:test";

import { moved, same, withTime, withValue, without, withinRange } from "../../custom_components/chargehand/frontend/windows.js";

/** @import {Limits, Window, Windows} from "../../custom_components/chargehand/frontend/types.js" */

const CHARGE = /** @type {const} */ ({ side: "charge", number: 1 });

/**
 * @param {number} step
 * @param {boolean} midnight
 * @returns {Limits}
 */
function limits(step, midnight) {
  const side = { count: 4, stop_level: { min: 10, max: 100, step: 5 }, limit: null };
  return { step_minutes: step, midnight, charge: side, discharge: side };
}

/**
 * @param {string} charge "01:00-05:00 07:00-08:00"
 * @param {string} [discharge]
 * @returns {Windows}
 */
function windows(charge, discharge = "") {
  const side = (/** @type {string} */ text) =>
    text
      .split(" ")
      .filter(Boolean)
      .map((one, index) => ({ number: index + 1, start: one.slice(0, 5), end: one.slice(6) }));
  return { charge: side(charge), discharge: side(discharge) };
}

/** @param {Windows} all */
function written({ charge, discharge }) {
  const side = (/** @type {Window[]} */ all) => all.map(({ start, end }) => `${start}-${end}`).join(" ");
  return [side(charge), side(discharge)].filter(Boolean).join(" | ");
}

test("an edge goes to the nearest step, and stops at its neighbours of either side", () => {
  /** @type {[string, string, "start" | "end" | "body", number, number, boolean, string][]} */
  const cases = [
    ["01:00-05:00", "", "start", 37, 15, true, "01:30-05:00"],
    ["01:00-05:00", "", "start", 38, 15, true, "01:45-05:00"],
    ["01:00-05:00", "", "end", -7, 15, true, "01:00-05:00"],
    ["01:00-05:00", "06:00-07:00", "end", 200, 15, true, "01:00-06:00 | 06:00-07:00"],
    ["01:00-05:00", "22:00-00:30", "start", -200, 15, true, "00:30-05:00 | 22:00-00:30"],
    // The neighbour ends between two steps: the edge stays on the last step that is free.
    ["01:00-05:00", "22:00-00:10", "start", -200, 30, true, "00:30-05:00 | 22:00-00:10"],
    ["01:00-05:00", "", "start", -120, 15, true, "23:00-05:00"],
    ["01:00-05:00", "", "start", -120, 15, false, "00:00-05:00"],
    ["21:00-23:00", "", "end", 120, 15, false, "21:00-24:00"],
    ["21:00-23:00", "", "end", 120, 15, true, "21:00-01:00"],
    ["21:00-23:00", "", "end", 60, 15, true, "21:00-24:00"],
    // No window becomes shorter than a step, or turns round.
    ["01:00-05:00", "", "end", -900, 30, true, "01:00-01:30"],
    ["01:00-05:00", "", "start", 900, 30, true, "04:30-05:00"],
    ["01:00-05:00", "05:00-06:00", "body", 60, 15, true, "01:00-05:00 | 05:00-06:00"],
    ["01:00-05:00", "07:00-08:00", "body", Infinity, 15, true, "03:00-07:00 | 07:00-08:00"],
    ["20:00-23:00", "", "body", 180, 15, true, "23:00-02:00"],
    ["20:00-23:00", "", "body", 180, 15, false, "21:00-24:00"],
    // The whole day is 00:00 to 24:00; no other window lasts 24 hours.
    ["00:00-23:00", "", "end", 60, 15, true, "00:00-24:00"],
    ["01:00-00:30", "", "end", Infinity, 15, true, "01:00-00:45"],
    ["01:00-00:30", "", "start", -Infinity, 15, true, "00:45-00:30"],
    ["00:00-24:00", "", "body", 60, 15, false, "00:00-24:00"],
  ];
  for (const [charge, discharge, handle, by, step, midnight, expected] of cases) {
    const found = moved(windows(charge, discharge), CHARGE, handle, by, limits(step, midnight));
    assert.equal(written(found), expected, `${charge} | ${discharge}: ${handle} by ${by}`);
  }
});

test("a pointer falls on five minutes while there is room, and on the inverter's step beside a neighbour", () => {
  /** @type {[string, number, string][]} */
  const cases = [
    ["", 13, "01:00-05:15"],
    ["", 12, "01:00-05:10"],
    ["05:28-06:00", 27, "01:00-05:25 | 05:28-06:00"],
    ["05:28-06:00", 28, "01:00-05:28 | 05:28-06:00"],
    ["05:28-06:00", 90, "01:00-05:28 | 05:28-06:00"],
  ];
  for (const [discharge, by, expected] of cases) {
    assert.equal(written(moved(windows("01:00-05:00", discharge), CHARGE, "end", by, limits(1, true), 5)), expected);
  }
});

test("a window over midnight that is there already can be edited where new ones cannot cross", () => {
  const found = moved(windows("23:00-02:00"), CHARGE, "end", 60, limits(15, false));
  assert.equal(written(found), "23:00-03:00");
});

test("windows that overlap already can only be made smaller", () => {
  const overlapping = windows("01:00-05:00 04:00-06:00");
  assert.equal(written(moved(overlapping, CHARGE, "end", 120, limits(15, true))), "01:00-05:00 04:00-06:00");
  const second = /** @type {const} */ ({ side: "charge", number: 2 });
  assert.equal(written(moved(overlapping, second, "start", -120, limits(15, true))), "01:00-05:00 04:00-06:00");
  assert.equal(written(moved(overlapping, CHARGE, "end", -60, limits(15, true))), "01:00-04:00 04:00-06:00");
});

test("a typed time is taken the nearer way round the clock", () => {
  /** @type {[string, "start" | "end", number, boolean, string][]} */
  const cases = [
    ["01:00-05:00", "start", 30, true, "00:30-05:00"],
    ["01:00-05:00", "start", 23 * 60, true, "23:00-05:00"],
    ["01:00-05:00", "end", 0, true, "20:00-24:00"],
    ["21:00-23:00", "end", 0, true, "21:00-24:00"],
    ["21:00-23:00", "end", 0, false, "21:00-24:00"],
    ["21:00-24:00", "end", 23 * 60, false, "21:00-23:00"],
    ["21:00-24:00", "end", 60, true, "21:00-01:00"],
    // A start after the end, or an end before the start, takes the window along.
    ["01:00-05:00", "start", 6 * 60, true, "06:00-10:00"],
    ["01:00-05:00", "end", 30, true, "20:30-00:30"],
    ["10:00-11:00", "start", 14 * 60, false, "14:00-15:00"],
  ];
  for (const [charge, edge, minute, midnight, expected] of cases) {
    const found = withTime(windows(charge), CHARGE, edge, minute, limits(15, midnight));
    assert.equal(written(found), expected, `${charge}: ${edge} at ${minute}`);
  }
});

test("values stay on the steps of their range, which count from its lowest", () => {
  assert.equal(withinRange(47, { min: 10, max: 100, step: 5 }), 45);
  assert.equal(withinRange(48, { min: 10, max: 100, step: 5 }), 50);
  assert.equal(withinRange(-3, { min: 10, max: 100, step: 5 }), 10);
  assert.equal(withinRange(Infinity, { min: 10, max: 100, step: 5 }), 100);
  assert.equal(withinRange(99, { min: 10, max: 99, step: 4 }), 98);
  assert.equal(withinRange(0.31, { min: 0, max: 1, step: 0.1 }), 0.3);
  const given = { ...windows("01:00-05:00"), discharge: [] };
  assert.equal(withValue(given, CHARGE, "stop_level", 62, { min: 10, max: 100, step: 5 }).charge[0]?.stop_level, 60);
  assert.equal(withValue(given, CHARGE, "stop_level", NaN, { min: 10, max: 100, step: 5 }), given);
});

test("a limit that windows share is set for all of the side", () => {
  const given = windows("01:00-05:00 12:00-13:00", "17:00-18:00");
  const range = { min: 10, max: 100, step: 5, shared: true };
  const { charge, discharge } = withValue(given, CHARGE, "stop_level", 62, range);
  assert.deepEqual(
    charge.map(({ stop_level: level }) => level),
    [60, 60],
  );
  assert.equal(discharge, given.discharge);
});

test("windows after one that is removed take the places before them", () => {
  const left = without(windows("01:00-02:00 03:00-04:00 05:00-06:00", "07:00-08:00"), CHARGE);
  assert.equal(written(left), "03:00-04:00 05:00-06:00 | 07:00-08:00");
  assert.deepEqual(
    left.charge.map(({ number }) => number),
    [1, 2],
  );
});

test("windows are the same if an inverter would do the same", () => {
  assert.ok(same(windows("22:00-24:00"), windows("22:00-00:00")));
  assert.ok(!same(windows("22:00-24:00"), windows("22:00-23:00")));
  assert.ok(!same(windows("22:00-24:00"), windows("", "22:00-24:00")));
  const level = (/** @type {number} */ stop_level) => ({
    charge: [{ number: 1, start: "01:00", end: "02:00", stop_level }],
    discharge: [],
  });
  assert.ok(!same(level(80), level(85)));
  assert.ok(same(level(80), level(80)));
});
