// The picture's scales, ticks and paths, held against values worked out by hand.
import assert from "node:assert/strict";
import { test } from "node:test";

import { layOut } from "../../custom_components/chargehand/frontend/band-layout.js";
import { energyScale } from "../../custom_components/chargehand/frontend/draw-energy.js";
import { areaPath, betweenPath, columnsPath, linePath, stepsPath } from "../../custom_components/chargehand/frontend/paths.js";
import { TimeScale, ValueScale, apart, hoursBetween, roundUp } from "../../custom_components/chargehand/frontend/scale.js";

const HOUR = 3_600_000;

test("a day of 24 hours on 480 pixels has 20 pixels an hour, both ways and beyond its ends", () => {
  const scale = new TimeScale(1_000_000, 1_000_000 + 24 * HOUR, 480);
  assert.equal(scale.x(1_000_000 + 6 * HOUR), 120);
  assert.equal(scale.at(120), 1_000_000 + 6 * HOUR);
  assert.equal(scale.at(-20), 1_000_000 - HOUR);
  assert.equal(scale.at(500), 1_000_000 + 25 * HOUR);
});

test("the level's floor is below and 100 % above; prices below zero go on below it", () => {
  const level = new ValueScale(0, 100, 300, 100);
  assert.deepEqual([level.y(0), level.y(25), level.y(100)], [300, 250, 100]);
  assert.equal(level.at(150), 75);
  const price = new ValueScale(-0.1, 0.3, 80, 0);
  assert.equal(Math.round(price.y(0)), 60);
});

test("an axis is labelled by 1, 2 or 5 and their tenfolds", () => {
  assert.deepEqual([0.7, 1, 1.2, 2.1, 5.5, 14, 0.3].map(roundUp), [1, 1, 2, 5, 10, 20, 0.5]);
  assert.ok(Math.abs(roundUp(0.1 + 0.2 - 0.1) - 0.2) < 1e-12);
});

test("hours are labelled as closely as their labels allow, by divisors of a day", () => {
  assert.deepEqual([60, 40, 20, 15, 10, 4, 1].map((width) => hoursBetween(width, 45)), [1, 2, 3, 3, 6, 12, 24]);
});

test("of labels that would touch, the one that comes first in the list stays", () => {
  const [one, two, three] = [{ from: 0, to: 40 }, { from: 30, to: 70 }, { from: 44, to: 80 }];
  assert.deepEqual(apart([one, two, three]), [one, three]);
  assert.deepEqual(apart([two, one, three]), [two]);
  assert.deepEqual(apart([one, three], 5), [one]);
});

test("a line and its area break where nothing is known", () => {
  const points = /** @type {import("../../custom_components/chargehand/frontend/paths.js").Point[]} */ ([[0, 10], [5, 12.34], null, [10, 8]]);
  assert.equal(linePath(points), "M0 10L5 12.3M10 8L10 8");
  assert.equal(areaPath(points, 20), "M0 20L0 10L5 12.3L5 20ZM10 20L10 8L10 20Z");
  assert.equal(linePath([]), "");
  assert.equal(linePath([null, null]), "");
});

test("a spread is the area from its upper line and back along its lower", () => {
  assert.equal(betweenPath([[0, 9], [4, 8]], [[0, 5], [4, 3]]), "M0 5L4 3L4 8L0 9Z");
  assert.equal(betweenPath([], []), "");
});

test("steps are joined where one ends as the next begins, and columns stand on their base on either side of it", () => {
  const steps = [{ from: 0, to: 4, y: 5 }, { from: 4, to: 8, y: 12 }, { from: 10, to: 12, y: 3 }];
  assert.equal(stepsPath(steps), "M0 5H4V12H8M10 3H12");
  assert.equal(columnsPath(steps.slice(0, 2), 10), "M0 10V5H4V10ZM4 10V12H8V10Z");
});

test("solar and house share one scale, and either keeps a quarter of the lane", () => {
  const past = { start: "2026-11-26T12:00:00Z", step_minutes: 60, level: [], solar_kw: [0, null, 4], load_kw: [-0.1, 1, null] };
  const { scale, tick } = energyScale({ top: 0, bottom: 100 }, past, null);
  // 5 kW in all: 4 up, and 1.25 down instead of 1; each with 6 % to spare.
  assert.ok(Math.abs(scale.high - 4.24) < 1e-9 && Math.abs(scale.low + 1.325) < 1e-9);
  assert.equal(tick, 2);
});

test("the picture fills a wide place and is scrolled on a narrow one; lanes that have nothing to show are left out", () => {
  const wide = layOut(1000, 35, { prices: true, energy: true });
  assert.deepEqual([wide.scrolls, wide.gutter + wide.width <= 1000], [false, true]);
  const phone = layOut(320, 35, { prices: true, energy: true });
  assert.deepEqual([phone.scrolls, phone.width], [true, 770]);
  const bare = layOut(1000, 35, { prices: false, energy: false });
  assert.deepEqual([bare.prices, bare.energy], [null, null]);
  assert.ok(bare.height < wide.height);
  for (const { head, prices, level, energy, axis, height } of [wide, phone]) {
    const lanes = [head, prices, level, energy, axis].filter((lane) => lane !== null);
    lanes.slice(1).forEach((lane, index) => assert.ok(lane.top >= (lanes[index]?.bottom ?? 0) && lane.bottom > lane.top));
    assert.equal(lanes.at(-1)?.bottom, height);
  }
});
