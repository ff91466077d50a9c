/** Where a new window goes: the cheapest free hours known, else the first free hour of the night. */

import { DAY, crossesMidnight, ofDay, spanOf, withSpan } from "./day-minutes.js";
import { SIDES, withinRange } from "./windows.js";

/** @import {HouseClock} from "./house-clock.js" */
/** @import {Limits, Price, Side, SideLimits, Window, Windows} from "./types.js" */

const HOUR = 60;

/** Minutes that the first hour of a new window falls on at least. */
const QUARTER = 15;

/** Minutes that a new window lasts at most. */
const MOST = 6 * HOUR;

/** What sums of prices differ by where they are the same. */
const SAME = 1e-9;

const MINUTE_MS = 60_000;

/** % that a new discharge window leaves in the battery, unless the inverter demands more (common practice, no source). */
const LOWEST_LEVEL = 10;

/**
 * Return whether the inverter has a place for one more window of a side.
 *
 * Where its windows cannot cross midnight, one that does takes two places.
 * @param {Windows} windows
 * @param {Side} side
 * @param {Limits} limits
 */
export function hasPlace(windows, side, limits) {
  const taken = windows[side].reduce((sum, one) => sum + (!limits.midnight && crossesMidnight(one) ? 2 : 1), 0);
  return taken < (limits[side]?.count ?? 0);
}

/**
 * Return a new window of a side; null where there is no place or no time for it.
 * @param {Windows} windows
 * @param {Side} side
 * @param {Limits} limits
 * @param {Price[]} prices
 * @param {HouseClock} clock
 * @param {number} now
 * @returns {Window | null}
 */
export function newWindow(windows, side, limits, prices, clock, now) {
  const own = limits[side];
  if (!own || !hasPlace(windows, side, limits)) {
    return null;
  }
  const free = freeMinutes(windows);
  const span = bestHours(free, side, limits, pricesByMinute(prices, clock, now), clock.minute(now)) ?? firstHour(free, limits);
  if (!span) {
    return null;
  }
  const window = withSpan({ start: "", end: "", number: windows[side].length + 1 }, span.start, span.length);
  return withFirstValues(window, windows[side], side, own);
}

/**
 * Return of each minute of the day whether no window covers it.
 * @param {Windows} windows
 */
export function freeMinutes(windows) {
  const free = new Array(DAY).fill(true);
  for (const { start, length } of SIDES.flatMap((side) => windows[side].map(spanOf))) {
    for (let minute = start; minute < start + length; minute += 1) {
      free[ofDay(minute)] = false;
    }
  }
  return /** @type {boolean[]} */ (free);
}

/**
 * Return the price of each minute of the day, of the 24 hours to come; NaN where it is not known.
 * @param {Price[]} prices
 * @param {HouseClock} clock
 * @param {number} now
 */
export function pricesByMinute(prices, clock, now) {
  const byMinute = new Array(DAY).fill(NaN);
  for (const { start, end, buy } of prices) {
    const last = Math.min(Date.parse(end), now + DAY * MINUTE_MS);
    for (let at = Math.max(Date.parse(start), now); at < last; at += MINUTE_MS) {
      byMinute[clock.minute(at)] = buy;
    }
  }
  return /** @type {number[]} */ (byMinute);
}

/**
 * Return the free hour with the best mean price, with the free time beside it that has the day's best price too; null without prices.
 *
 * Of several, it is the longest, and of those the first to come.
 * @param {boolean[]} free
 * @param {Side} side Cheap hours are best to charge, expensive ones to discharge.
 * @param {Limits} limits
 * @param {number[]} prices
 * @param {number} from The minute of the day that it is now.
 */
function bestHours(free, side, limits, prices, from) {
  const sign = side === "charge" ? 1 : -1;
  const usable = (/** @type {number} */ minute) => free[ofDay(minute)] && !Number.isNaN(prices[ofDay(minute)]);
  const lowest = Math.min(...prices.filter((price) => !Number.isNaN(price)).map((price) => sign * price)) * sign;
  const { step_minutes: step, midnight } = limits;
  const grid = step * Math.ceil(QUARTER / step);
  /** @type {{cost: number, start: number, length: number} | null} */
  let best = null;
  for (let next = 0; next < DAY; next += grid) {
    const start = ofDay(Math.ceil(from / grid) * grid + next);
    const minutes = Array.from({ length: HOUR }, (_, index) => start + index);
    if ((!midnight && start + HOUR > DAY) || !minutes.every(usable)) {
      continue;
    }
    const cost = sign * minutes.reduce((sum, minute) => sum + /** @type {number} */ (prices[ofDay(minute)]), 0);
    if (best !== null && cost > best.cost + SAME) {
      continue;
    }
    const span = widened(start, limits, (minute) => usable(minute) && prices[ofDay(minute)] === lowest);
    if (best === null || cost < best.cost - SAME || span.length > best.length) {
      best = { cost, ...span };
    }
  }
  return best;
}

/**
 * Return an hour with the time beside it that is alike; the hour alone where that is too long for a window, as at a usual price.
 * @param {number} start
 * @param {Limits} limits
 * @param {(minute: number) => boolean} alike
 */
function widened(start, { step_minutes: step, midnight }, alike) {
  const stretch = (/** @type {number} */ from) => Array.from({ length: step }, (_, index) => from + index).every(alike);
  let [first, end] = [start, start + HOUR];
  while (end - first <= MOST && (midnight || end + step <= DAY) && stretch(end)) {
    end += step;
  }
  while (end - first <= MOST && (midnight || first - step >= 0) && stretch(first - step)) {
    first -= step;
  }
  return end - first <= MOST ? { start: first, length: end - first } : { start, length: HOUR };
}

/**
 * Return the first free hour from midnight on, else the longest free time that is shorter; null where the day is full.
 * @param {boolean[]} free
 * @param {Limits} limits
 */
function firstHour(free, { step_minutes: step }) {
  let longest = { start: 0, length: 0 };
  for (let start = 0; start < DAY; start += step) {
    let length = 0;
    while (length < HOUR && start + length < DAY && free[start + length]) {
      length += 1;
    }
    length -= length % step;
    longest = length > longest.length ? { start, length } : longest;
  }
  return longest.length > 0 ? longest : null;
}

/**
 * Return a window with the limits of the side's last window, else with the most that the inverter takes.
 * @param {Window} window
 * @param {Window[]} others
 * @param {Side} side
 * @param {SideLimits} limits
 */
function withFirstValues(window, others, side, { stop_level: level, limit }) {
  const last = others.at(-1);
  const first = { ...window };
  if (level) {
    const lowest = side === "discharge" ? Math.max(level.min, LOWEST_LEVEL) : level.max;
    first.stop_level = last?.stop_level ?? withinRange(lowest, level);
  }
  if (limit) {
    const name = limit.unit === "A" ? "current" : "power";
    first[name] = last?.[name] ?? withinRange(limit.max, limit);
  }
  return first;
}
