/** When windows act by the house's clock: drawn at once, until the inverter's own times are known. */

import { ofDay, spanOf } from "./day-minutes.js";
import { SIDES } from "./windows.js";

/** @import {HouseClock} from "./house-clock.js" */
/** @import {Band, Occurrence, Window, Windows} from "./types.js" */

const MINUTE_MS = 60_000;

/**
 * Return every time that a window acts within the band, by their start.
 * @param {Windows} windows
 * @param {Band} band
 * @param {HouseClock} clock
 * @returns {Occurrence[]}
 */
export function occurrences(windows, band, clock) {
  const [from, to] = [Date.parse(band.start), Date.parse(band.end)];
  const found = SIDES.flatMap((side) =>
    windows[side].flatMap((window) =>
      acting(window, from, to, clock).map(({ start, end }) => ({
        side,
        number: window.number ?? 0,
        start: new Date(start).toISOString(),
        end: new Date(end).toISOString(),
        stop_level: window.stop_level ?? null,
        power_kw: window.power === undefined ? null : window.power / 1000,
      })),
    ),
  );
  return found.sort((one, other) => Date.parse(one.start) - Date.parse(other.start));
}

/**
 * Return when one window acts. Its edges are sought by the clock, which may skip or repeat an hour.
 * @param {Window} window
 * @param {number} from
 * @param {number} to
 * @param {HouseClock} clock
 */
function acting(window, from, to, clock) {
  const { start, length } = spanOf(window);
  const covers = (/** @type {number} */ at) => ofDay(clock.minute(at) - start) < length;
  const found = [];
  let begun = covers(from) ? from : null;
  let before = begun !== null;
  for (let at = from + MINUTE_MS; at <= to; at += MINUTE_MS) {
    const now = at < to && covers(at);
    if (now && !before) {
      begun = at;
    } else if (before && !now && begun !== null) {
      found.push({ start: begun, end: at });
      begun = null;
    }
    before = now;
  }
  return found;
}
