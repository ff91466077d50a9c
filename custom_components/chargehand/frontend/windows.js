/** Edits of windows: each stays on the inverter's steps, and stops at its neighbours of either side. Nothing is changed in place. */

import { DAY, crossesMidnight, minuteOf, ofDay, onStep, spanOf, withSpan } from "./day-minutes.js";

/** @import {Limits, Range, Side, Window, Windows} from "./types.js" */

/** @typedef {{side: Side, number: number}} Place */

/** @typedef {"start" | "end" | "body"} TimeHandle */

/** @type {Side[]} */
export const SIDES = ["charge", "discharge"];

/**
 * Return the window in a place, if there is one.
 * @param {Windows} windows
 * @param {Place} place
 */
export function windowAt(windows, place) {
  return windows[place.side].find(({ number }) => number === place.number);
}

/**
 * Return the windows of both sides with one changed.
 * @param {Windows} windows
 * @param {Place} place
 * @param {Window} changed
 * @returns {Windows}
 */
export function withWindow(windows, place, changed) {
  const side = windows[place.side].map((window) => (window.number === place.number ? changed : window));
  return { ...windows, [place.side]: side };
}

/**
 * Return how many minutes are free before a window and after it.
 * @param {Windows} windows
 * @param {Place} place
 * @param {Limits} limits
 */
export function roomAround(windows, place, limits) {
  const window = windowAt(windows, place);
  if (!window) {
    return { before: 0, after: 0 };
  }
  const { start, length } = spanOf(window);
  let before = Infinity;
  let after = Infinity;
  for (const other of SIDES.flatMap((side) => windows[side].filter((one) => side !== place.side || one !== window))) {
    const beside = spanOf(other);
    const gap = ofDay(beside.start - start - length);
    const overlaps = ofDay(beside.start - start) < length || ofDay(start - beside.start) < beside.length;
    before = Math.min(before, overlaps ? 0 : ofDay(start - beside.start - beside.length));
    after = Math.min(after, overlaps ? 0 : gap);
  }
  if (!limits.midnight && !crossesMidnight(window)) {
    before = Math.min(before, start);
    after = Math.min(after, DAY - start - length);
  }
  return { before, after };
}

/**
 * Return the windows with one edge of a window, or the whole of it, moved as far as there is room.
 * @param {Windows} windows
 * @param {Place} place
 * @param {TimeHandle} handle
 * @param {number} by Minutes, below 0 for earlier; infinite for as far as there is room.
 * @param {Limits} limits
 * @param {number} [grid] Minutes that edges fall on while there is room, a multiple of the inverter's step.
 * @returns {Windows}
 */
export function moved(windows, place, handle, by, limits, grid = limits.step_minutes) {
  const window = windowAt(windows, place);
  if (!window) {
    return windows;
  }
  const { start, length } = spanOf(window);
  const room = roomAround(windows, place, limits);
  const step = limits.step_minutes;
  const near = (/** @type {number} */ wanted, /** @type {number} */ low, /** @type {number} */ high) =>
    onStep(wanted, wanted > low && wanted < high ? grid : step, low, high);
  if (handle === "body") {
    const at = near(start + by, start - room.before, start + room.after);
    return at === null ? windows : withWindow(windows, place, withSpan(window, at, length));
  }
  const most = DAY - length;
  const span = { start, length };
  if (handle === "start") {
    const at = near(start + by, start - Math.min(room.before, most), start + length - step);
    span.start = at ?? start;
    span.length = start + length - span.start;
  } else {
    const end = start + length;
    const at = near(end + by, start + step, end + Math.min(room.after, most));
    span.length = (at ?? end) - start;
  }
  if (span.length === DAY && ofDay(span.start) !== 0) {
    // A window of 24 hours is written 00:00 to 24:00 only.
    span.length -= step;
    span.start += handle === "start" ? step : 0;
  }
  return withWindow(windows, place, withSpan(window, span.start, span.length));
}

/**
 * Return the windows with a start or an end set to a time of day, as far as there is room.
 *
 * The nearer way round the clock is meant. A time beyond the window's other end moves the whole window.
 * @param {Windows} windows
 * @param {Place} place
 * @param {"start" | "end"} edge
 * @param {number} minute 0 to 1439.
 * @param {Limits} limits
 */
export function withTime(windows, place, edge, minute, limits) {
  const window = windowAt(windows, place);
  if (!window) {
    return windows;
  }
  const { start, length } = spanOf(window);
  const around = limits.midnight || crossesMidnight(window);
  const written = edge === "start" ? start : around ? ofDay(start + length) : start + length;
  // An end at 00:00 is the midnight that follows the start.
  const wanted = edge === "end" && minute === 0 && !around ? DAY : minute;
  let by = wanted - written;
  if (around && Math.abs(by) > DAY / 2) {
    by -= Math.sign(by) * DAY;
  }
  const passes = edge === "start" ? by >= length : by <= -length;
  return moved(windows, place, passes ? "body" : edge, by, limits);
}

/**
 * Return the windows with a stop level or a limit set, on its step and within its range; of all windows of the side where they share it.
 * @param {Windows} windows
 * @param {Place} place
 * @param {"stop_level" | "power" | "current"} name
 * @param {number} value
 * @param {Range | null} range
 */
export function withValue(windows, place, name, value, range) {
  const window = windowAt(windows, place);
  if (!window || !range || Number.isNaN(value)) {
    return windows;
  }
  const near = withinRange(value, range);
  return range.shared
    ? { ...windows, [place.side]: windows[place.side].map((one) => ({ ...one, [name]: near })) }
    : withWindow(windows, place, { ...window, [name]: near });
}

/**
 * Return the value of a range that is nearest.
 * @param {number} value
 * @param {Range} range
 */
export function withinRange(value, { min, max, step }) {
  const inside = Math.min(Math.max(value, min), max);
  const steps = Math.round((inside - min) / step);
  const near = Number((min + steps * step).toFixed(6));
  return near > max ? Number((near - step).toFixed(6)) : near;
}

/**
 * Return the windows without one; those after it take the places before them, as the inverter fills its places.
 * @param {Windows} windows
 * @param {Place} place
 * @returns {Windows}
 */
export function without(windows, place) {
  return { ...windows, [place.side]: inOrder(windows[place.side].filter(({ number }) => number !== place.number)) };
}

/**
 * Return windows numbered from 1.
 * @param {Window[]} windows
 */
export function inOrder(windows) {
  return windows.map((window, index) => ({ ...window, number: index + 1 }));
}

/**
 * Return whether an inverter would do the same under both.
 * @param {Windows} one
 * @param {Windows} other
 */
export function same(one, other) {
  return SIDES.every(
    (side) =>
      one[side].length === other[side].length &&
      one[side].every((window, index) => sameWindow(window, /** @type {Window} */ (other[side][index]))),
  );
}

/**
 * @param {Window} one
 * @param {Window} other
 */
export function sameWindow(one, other) {
  return (
    ofDay(minuteOf(one.start)) === ofDay(minuteOf(other.start)) &&
    ofDay(minuteOf(one.end)) === ofDay(minuteOf(other.end)) &&
    one.power === other.power &&
    one.current === other.current &&
    one.stop_level === other.stop_level
  );
}

/**
 * Return windows as the actions take them.
 * @param {Windows} windows
 */
export function asked(windows) {
  const plain = (/** @type {Window} */ window) => {
    const bare = { ...window };
    delete bare.number;
    return bare;
  };
  return { charge: windows.charge.map(plain), discharge: windows.discharge.map(plain) };
}
