/** The house's clock: what it shows at a moment, whatever zone the browser is in, also on days of 23 and 25 hours. */

/** @import {ClockData, Locale} from "./types.js" */

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const MINUTES_OF_DAY = 1440;

/** Moments are milliseconds since 1970, as `Date.now()` has them. */
export class HouseClock {
  /** @type {{from: number, offset: number}[]} */
  #segments;
  /** @type {Intl.DateTimeFormat} */
  #time;
  /** @type {Intl.DateTimeFormat} */
  #weekday;
  /** @type {Intl.DateTimeFormat} */
  #hour;

  /**
   * @param {ClockData} clock
   * @param {Locale} locale
   */
  constructor(clock, locale) {
    this.#segments = clock.segments
      .map(({ from, offset_minutes: offset }) => ({ from: Date.parse(from), offset: offset * MINUTE }))
      .sort((one, other) => one.from - other.from);
    const hour12 = asksForTwelve(locale);
    const language = locale.language;
    this.#time = new Intl.DateTimeFormat(language, {
      hour: hour12 ? "numeric" : "2-digit",
      minute: "2-digit",
      hourCycle: hour12 ? "h12" : "h23",
      timeZone: "UTC",
    });
    this.#hour = hour12
      ? new Intl.DateTimeFormat(language, { hour: "numeric", hourCycle: "h12", timeZone: "UTC" })
      : this.#time;
    this.#weekday = new Intl.DateTimeFormat(language, { weekday: "long", timeZone: "UTC" });
  }

  /**
   * Return the house's minute of the day, 0 to 1439.
   * @param {number} moment
   */
  minute(moment) {
    return modulo(Math.floor(this.#shown(moment) / MINUTE), MINUTES_OF_DAY);
  }

  /**
   * Return the first moment from `from` on at which the house's clock shows a minute of the day; null where none is within
   * two days. On the day without that minute, it is the moment at which the clock has passed it.
   * @param {number} minute 0 to 1439.
   * @param {number} from
   */
  next(minute, from) {
    const first = Math.ceil(from / MINUTE) * MINUTE;
    let before = this.minute(first - MINUTE);
    for (let moment = first; moment < first + 48 * HOUR; moment += MINUTE) {
      const shown = this.minute(moment);
      const passed = modulo(shown - before, MINUTES_OF_DAY);
      // The clock went on by more than a minute: it skipped what lies between. Backward it goes by hours at most.
      if (shown === minute || (passed > 1 && passed < 720 && modulo(minute - before, MINUTES_OF_DAY) < passed)) {
        return moment;
      }
      before = shown;
    }
    return null;
  }

  /**
   * Return the time of day as the user writes it: "21:04" or "9:04 PM".
   * @param {number} moment
   */
  time(moment) {
    return this.#time.format(this.#shown(moment));
  }

  /**
   * Return a window's "HH:MM" as the user writes it.
   * @param {string} written
   */
  written(written) {
    const [hours = 0, minutes = 0] = written.split(":").map(Number);
    return this.#time.format(hours * HOUR + minutes * MINUTE);
  }

  /**
   * Return the day of the week at the house.
   * @param {number} moment
   */
  weekday(moment) {
    return this.#weekday.format(this.#shown(moment));
  }

  /**
   * Return the time, with the weekday before it unless it is the house's today.
   * @param {number} moment
   * @param {number} [now]
   */
  timeAndDay(moment, now = Date.now()) {
    const time = this.time(moment);
    return this.#day(moment) === this.#day(now) ? time : `${this.weekday(moment)}, ${time}`;
  }

  /**
   * Return the hours between two moments that the house's clock shows as full hours, every `every` of them, for an axis.
   * @param {number} start
   * @param {number} end
   * @param {number} [every] Hours; a divisor of 24.
   * @returns {{at: number, label: string, midnight: boolean}[]}
   */
  ticks(start, end, every = 1) {
    const ticks = [];
    // Quarters of an hour: some zones are not whole hours away from UTC.
    for (let at = Math.ceil(start / (15 * MINUTE)) * 15 * MINUTE; at <= end; at += 15 * MINUTE) {
      const minute = this.minute(at);
      if (minute % (every * 60) === 0) {
        ticks.push({ at, label: this.#hour.format(this.#shown(at)), midnight: minute === 0 });
      }
    }
    return ticks;
  }

  /**
   * Return the moment as if the house's clock were in UTC.
   * @param {number} moment
   */
  #shown(moment) {
    const segment = this.#segments.findLast(({ from }) => from <= moment) ?? this.#segments[0];
    return moment + (segment?.offset ?? 0);
  }

  /** @param {number} moment */
  #day(moment) {
    return Math.floor(this.#shown(moment) / (MINUTES_OF_DAY * MINUTE));
  }
}

/**
 * Return whether the profile wants "9:04 PM" instead of "21:04".
 * @param {Locale} locale
 */
function asksForTwelve({ time_format: format, language }) {
  if (format === "12" || format === "24") {
    return format === "12";
  }
  const asked = format === "system" ? undefined : language;
  return new Intl.DateTimeFormat(asked, { hour: "numeric" }).resolvedOptions().hour12 === true;
}

/**
 * @param {number} value
 * @param {number} by
 */
function modulo(value, by) {
  return ((value % by) + by) % by;
}
