/** Windows, their settings and values in words. */

import { shownMinute } from "./time-entry.js";
import { minuteOf } from "./day-minutes.js";
import { SIDES } from "./windows.js";

/** @import {HouseClock} from "./house-clock.js" */
/** @import {Texts} from "./texts.js" */
/** @import {Side, Window, Windows} from "./types.js" */

/**
 * Return what a window is called: "Charge window 1".
 * @param {Side} side
 * @param {number} number
 * @param {Texts} texts
 */
export function windowName(side, number, texts) {
  return texts.t(`edit_${side}_window`, { number: String(number) });
}

/**
 * Return a window in words: "00:30–03:30 at 2,400 W to 80 %".
 * @param {Window} window
 * @param {Texts} texts
 * @param {HouseClock} clock
 */
export function windowWords(window, texts, clock) {
  const limit = limitWords(window, texts);
  return [
    `${timeWords(window.start, clock)}–${timeWords(window.end, clock)}`,
    limit && texts.t("edit_at", { limit }),
    window.stop_level === undefined ? "" : texts.t("edit_to", { level: texts.number(window.stop_level, 1) }),
  ]
    .filter(Boolean)
    .join(" ");
}

/**
 * Return a schedule in words, one line a window.
 * @param {Windows} windows
 * @param {Texts} texts
 * @param {HouseClock} clock
 */
export function scheduleWords(windows, texts, clock) {
  const lines = SIDES.flatMap((side) =>
    windows[side].map((one) => `${windowName(side, one.number ?? 0, texts)}: ${windowWords(one, texts, clock)}`),
  );
  return lines.length > 0 ? lines.join("; ") : texts.t("edit_no_windows");
}

/**
 * Return a time of a window as the user writes it.
 * @param {string} written "HH:MM".
 * @param {HouseClock} clock
 */
export function timeWords(written, clock) {
  return shownMinute(minuteOf(written), clock);
}

/**
 * Return a window's limit with its unit; an empty text where it has none.
 * @param {Window} window
 * @param {Texts} texts
 */
export function limitWords(window, texts) {
  if (window.power !== undefined) {
    return `${texts.number(window.power, 1)} W`;
  }
  return window.current === undefined ? "" : `${texts.number(window.current, 1)} A`;
}

/**
 * Return who has asked, without what it went through: "Ada (action draft_schedule)" is Ada.
 * @param {string} by
 */
export function askerOf(by) {
  return by.replace(/ \(.*\)$/, "");
}

/** Units of a window's numbers. @type {Record<string, string>} */
const UNITS = { power: "W", current: "A", stop_level: "%" };

/**
 * Return what a receipt calls a setting, "charge_window_1_start", as the card calls it.
 * @param {string} what
 * @param {Texts} texts
 */
export function settingName(what, texts) {
  const found = /^(charge|discharge)_window_(\d+)_(\w+)$/.exec(what);
  if (!found) {
    return texts.t(`edit_${what}`);
  }
  const [, side, number, setting] = found;
  return `${windowName(/** @type {Side} */ (side), Number(number), texts)}: ${texts.t(`edit_${setting}`)}`;
}

/**
 * Return the value of a setting as the user writes it.
 * @param {string} what
 * @param {string | number | boolean | null} value
 * @param {Texts} texts
 * @param {HouseClock} clock
 */
export function settingValue(what, value, texts, clock) {
  if (value === null) {
    return texts.t("edit_not_readable");
  }
  if (typeof value === "boolean") {
    return texts.t(value ? "edit_on" : "edit_off");
  }
  if (typeof value === "string") {
    return timeWords(value, clock);
  }
  const unit = UNITS[what.replace(/^.*_window_\d+_/, "")];
  return unit ? `${texts.number(value, 1)} ${unit}` : texts.number(value, 1);
}
