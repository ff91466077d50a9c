/** Minutes of the day: how window times are counted, written, and put on an inverter's steps. */

/** @import {Window} from "./types.js" */

export const DAY = 1440;

/**
 * Return the minute of the day of a time as windows have it, 0 to 1440.
 * @param {string} written "HH:MM".
 */
export function minuteOf(written) {
  const [hours = 0, minutes = 0] = written.split(":").map(Number);
  return hours * 60 + minutes;
}

/**
 * Return a minute of the day, 0 to 1440, as windows have it; 1440 is 24:00.
 * @param {number} minute
 */
export function writtenMinute(minute) {
  const two = (/** @type {number} */ value) => String(value).padStart(2, "0");
  return `${two(Math.floor(minute / 60))}:${two(minute % 60)}`;
}

/**
 * Return the minute of the day that a count of minutes over days comes to, 0 to 1439.
 * @param {number} minutes
 */
export function ofDay(minutes) {
  return ((minutes % DAY) + DAY) % DAY;
}

/**
 * Return when a window starts, 0 to 1439, and how long it lasts, 1 to 1440, in minutes.
 * @param {Window} window
 */
export function spanOf(window) {
  const start = ofDay(minuteOf(window.start));
  return { start, length: ofDay(minuteOf(window.end) - start) || DAY };
}

/**
 * Return a window with other times.
 * @param {Window} window
 * @param {number} start Minutes of the day, also beyond one.
 * @param {number} length Minutes, 1 to 1440.
 * @returns {Window}
 */
export function withSpan(window, start, length) {
  const first = ofDay(start);
  return { ...window, start: writtenMinute(first), end: writtenMinute(ofDay(first + length) || DAY) };
}

/**
 * Return whether a window goes on after midnight.
 * @param {Window} window
 */
export function crossesMidnight(window) {
  const { start, length } = spanOf(window);
  return start + length > DAY;
}

/**
 * Return the multiple of `step` within two bounds that is nearest to `value`; null where there is none.
 * @param {number} value
 * @param {number} step
 * @param {number} low
 * @param {number} high
 */
export function onStep(value, step, low, high) {
  const first = Math.ceil(low / step) * step;
  const last = Math.floor(high / step) * step;
  const near = Math.min(Math.max(Math.round(value / step) * step, first), last);
  return first <= last && Number.isFinite(near) ? near : null;
}
