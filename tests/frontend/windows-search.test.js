// Windows dragged at random, held against a search minute by minute that shares nothing with the card's own arithmetic.
import assert from "node:assert/strict";
import { test } from "node:test";

import { moved } from "../../custom_components/chargehand/frontend/windows.js";

/** @import {Limits, Side, Window, Windows} from "../../custom_components/chargehand/frontend/types.js" */

const DAY = 1440;

/**
 * @param {number} step
 * @param {boolean} midnight
 * @returns {Limits}
 */
function limits(step, midnight) {
  const side = { count: 4, stop_level: { min: 10, max: 100, step: 5 }, limit: null };
  return { step_minutes: step, midnight, charge: side, discharge: side };
}

/** @param {Windows} all */
function written({ charge, discharge }) {
  const side = (/** @type {Window[]} */ all) => all.map(({ start, end }) => `${start}-${end}`).join(" ");
  return [side(charge), side(discharge)].filter(Boolean).join(" | ");
}

/** @param {number} seed */
function chance(seed) {
  // Park and Miller, Random number generators: good ones are hard to find, CACM 31 (1988): the minimal standard.
  let state = seed;
  return (/** @type {number} */ below) => {
    state = (state * 48271) % 2147483647;
    return state % below;
  };
}

const text = (/** @type {number} */ minute) =>
  `${`0${Math.floor(minute / 60)}`.slice(-2)}:${`0${minute % 60}`.slice(-2)}`;

/**
 * Return the minutes of the day that a window covers, one by one.
 * @param {{start: string, end: string}} window
 */
function minutesOf({ start, end }) {
  const at = (/** @type {string} */ written_) => Number(written_.slice(0, 2)) * 60 + Number(written_.slice(3));
  const minutes = [];
  let minute = at(start);
  do {
    minutes.push(minute);
    minute = minute === DAY - 1 ? 0 : minute + 1;
  } while (minute !== at(end) % DAY);
  return minutes;
}

/**
 * Return windows that do not overlap, at random.
 * @param {(below: number) => number} random
 * @param {number} step
 * @param {boolean} midnight
 */
function someWindows(random, step, midnight) {
  const taken = new Set();
  /** @type {Windows} */
  const found = { charge: [], discharge: [] };
  for (let tries = 0; tries < 8; tries += 1) {
    // Some begin beside the steps, as an inverter may hold them.
    const start = (random(DAY / step) * step + (random(4) === 0 ? random(step) : 0)) % DAY;
    const length = Math.max(step, (random(300 / step) + 1) * step);
    const end = start + length;
    const window = { start: text(start), end: text(end === DAY ? DAY : end % DAY) };
    const minutes = minutesOf(window);
    if ((midnight || end <= DAY) && length < DAY && !minutes.some((one) => taken.has(one))) {
      minutes.forEach((one) => taken.add(one));
      const side = /** @type {Side} */ (random(2) === 0 ? "charge" : "discharge");
      found[side].push({ ...window, number: found[side].length + 1 });
    }
  }
  return found;
}

/**
 * @param {Set<number>} taken Minutes of the day.
 * @param {number} start
 * @param {number} end
 */
function anyTaken(taken, start, end) {
  for (let minute = start; minute < end; minute += 1) {
    if (taken.has(((minute % DAY) + DAY) % DAY)) {
      return true;
    }
  }
  return false;
}

/**
 * Return how near to `by` a handle can be moved, minute by minute, over free minutes alone; null where it must stay.
 * @param {Windows} all
 * @param {Window} window
 * @param {"start" | "end" | "body"} handle
 * @param {number} by
 * @param {number} step
 * @param {boolean} midnight
 */
function nearest(all, window, handle, by, step, midnight) {
  const others = new Set([...all.charge, ...all.discharge].filter((one) => one !== window).flatMap(minutesOf));
  const own = minutesOf(window);
  const first = /** @type {number} */ (own[0]);
  let best = null;
  for (const way of [-1, 1]) {
    for (let shift = way === 1 ? 0 : -1; Math.abs(shift) <= 2 * DAY; shift += way) {
      const start = first + (handle === "end" ? 0 : shift);
      const end = first + own.length + (handle === "start" ? 0 : shift);
      const length = end - start;
      const crosses = start < 0 || end > DAY;
      if (length < 1 || length > DAY || (crosses && !midnight) || anyTaken(others, start, end)) {
        break;
      }
      const edge = handle === "end" ? end : start;
      const whole = length === DAY && ((start % DAY) + DAY) % DAY !== 0;
      if (edge % step === 0 && length >= Math.min(step, own.length) && !whole) {
        const off = Math.abs(shift - by);
        best = best === null || off < best ? off : best;
      }
    }
  }
  return best;
}

test("wherever windows are dragged, no minute is covered twice, and no free step nearer to the pointer is left out", () => {
  const random = chance(20261126);
  let moves = 0;
  let stopped = 0;
  for (let round = 0; round < 600; round += 1) {
    const step = /** @type {number} */ ([1, 5, 15, 30][random(4)]);
    const midnight = random(2) === 0;
    const all = someWindows(random, step, midnight);
    const side = /** @type {Side} */ (random(2) === 0 ? "charge" : "discharge");
    const window = all[side][random(Math.max(1, all[side].length))];
    if (!window) {
      continue;
    }
    const handle = /** @type {"start" | "end" | "body"} */ (["start", "end", "body"][random(3)]);
    const by = random(DAY) - DAY / 2;
    const place = { side, number: window.number ?? 0 };
    const after = moved(all, place, handle, by, limits(step, midnight));
    const told = `${written(all)}: ${side} ${place.number} ${handle} by ${by}, step ${step}, midnight ${midnight}`;
    const covered = [...after.charge, ...after.discharge].flatMap(minutesOf);
    assert.equal(new Set(covered).size, covered.length, told);
    const now = /** @type {Window} */ (after[side].find(({ number }) => number === place.number));
    if (!midnight) {
      assert.ok(minutesOf(now).every((minute, index, minutes) => index === 0 || minute > /** @type {number} */ (minutes[index - 1])), told);
    }
    const best = nearest(all, window, handle, by, step, midnight);
    const [was, is] = [minutesOf(window), minutesOf(now)];
    if (best === null) {
      assert.deepEqual(is, was, told);
      continue;
    }
    const [edge, went] = [handle === "end" ? was.at(-1) : was[0], handle === "end" ? is.at(-1) : is[0]];
    const shift = /** @type {number} */ (went) - /** @type {number} */ (edge);
    // Round the clock, the way it went is the one that comes nearest.
    const off = Math.min(...[-2, -1, 0, 1, 2].map((days) => Math.abs(shift + days * DAY - by)));
    assert.equal(off, best, told);
    moves += 1;
    stopped += Number(best > step);
  }
  // Enough of both kinds, or the test says little.
  assert.ok(moves > 400 && stopped > 80, `${moves} moves, ${stopped} of them stopped by something`);
});
