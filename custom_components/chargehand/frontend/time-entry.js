/** Times of day as people type them: 13:30, 1330, 1.30 pm, 1:30 PM, 7. */

import { writtenMinute } from "./day-minutes.js";

/** @import {HouseClock} from "./house-clock.js" */

/**
 * Return the minute of the day that was typed, 0 to 1439; null for what is no time.
 * @param {string} typed
 * @param {HouseClock} clock
 */
export function typedMinute(typed, clock) {
  const text = typed.trim().toLowerCase();
  const found = /^(\D*)(\d{1,2})(?:\s*[:.h]?\s*(\d{2}))?\s*(\D*)$/.exec(text);
  if (!found) {
    return null;
  }
  // Some languages write the half of the day first.
  const [, before = "", hours = "", minutes = "0", after = ""] = found;
  const half = before + after;
  const afternoon = half === "" ? null : halfOfDay(half, clock);
  if (afternoon === undefined || Number(minutes) > 59) {
    return null;
  }
  const hour = Number(hours);
  if (afternoon !== null) {
    return hour >= 1 && hour <= 12 ? (hour % 12) * 60 + Number(minutes) + (afternoon ? 720 : 0) : null;
  }
  if (hour === 24 && Number(minutes) === 0) {
    return 0;
  }
  return hour < 24 ? hour * 60 + Number(minutes) : null;
}

/**
 * Return a minute of the day, 0 to 1440, as the user writes it.
 * @param {number} minute
 * @param {HouseClock} clock
 */
export function shownMinute(minute, clock) {
  return clock.written(writtenMinute(minute % 1440));
}

/**
 * Return whether the half of the day is the afternoon; undefined for what is neither half.
 * @param {string} half "am", "p.m.", or as the user's language writes it.
 * @param {HouseClock} clock
 */
function halfOfDay(half, clock) {
  const bare = (/** @type {string} */ text) => text.toLowerCase().replace(/[\s.\u202f\u00a0:\d]/g, "");
  const typed = bare(half);
  for (const [afternoon, written, letter] of /** @type {[boolean, string, string][]} */ ([
    [false, "01:00", "a"],
    [true, "13:00", "p"],
  ])) {
    if (typed !== "" && [letter, `${letter}m`, bare(clock.written(written))].includes(typed)) {
      return afternoon;
    }
  }
  return undefined;
}
