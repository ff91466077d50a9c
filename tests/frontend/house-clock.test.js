// The house's clock, held against the browser engine's own knowledge of time zones (CLDR and tz, which the card does not use for it).
import assert from "node:assert/strict";
import { test } from "node:test";

import { HouseClock } from "../../custom_components/chargehand/frontend/house-clock.js";

const MINUTE = 60_000;
const BRITISH = { language: "en-GB", time_format: "language", number_format: "language" };
const AMERICAN = { ...BRITISH, language: "en-US" };

/**
 * Offsets of a zone between two moments, found by trying every quarter of an hour: the way that a server's answer is laid out.
 * @param {string} zone
 * @param {string} start
 * @param {string} end
 */
function clockData(zone, start, end) {
  /** @type {{from: string, offset_minutes: number}[]} */
  const segments = [];
  for (let at = Date.parse(start); at < Date.parse(end); at += 15 * MINUTE) {
    const { hour, minute, day } = shown(zone, at);
    const utc = new Date(at);
    let offset = hour * 60 + minute - utc.getUTCHours() * 60 - utc.getUTCMinutes();
    if (day !== utc.getUTCDate()) {
      // Bands are shorter than a month, and zones at most 14 hours away.
      offset += offset > 0 ? -1440 : 1440;
    }
    if (segments.at(-1)?.offset_minutes !== offset) {
      segments.push({ from: utc.toISOString(), offset_minutes: offset });
    }
  }
  return { zone, segments };
}

/**
 * @param {string} zone
 * @param {number} at
 */
function shown(zone, at) {
  const format = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone,
    hourCycle: "h23",
    day: "numeric",
    hour: "numeric",
    minute: "numeric",
  });
  const parts = Object.fromEntries(format.formatToParts(at).map(({ type, value }) => [type, Number(value)]));
  return /** @type {{day: number, hour: number, minute: number}} */ (parts);
}

// Both changes of summer time; a change by half an hour; an offset of 45 minutes; a change at midnight.
const DAYS = /** @type {const} */ ([
  ["Europe/London", "2026-03-28T16:00Z", "2026-03-30T00:00Z"],
  ["Europe/London", "2026-10-24T16:00Z", "2026-10-26T00:00Z"],
  ["Australia/Lord_Howe", "2026-04-04T04:00Z", "2026-04-05T15:00Z"],
  ["Asia/Kathmandu", "2026-11-26T04:00Z", "2026-11-27T20:00Z"],
  ["America/New_York", "2026-11-26T14:00Z", "2026-11-28T05:00Z"],
]);

for (const [zone, start, end] of DAYS) {
  test(`${zone} from ${start}: every minute is the one that the house's clock shows`, () => {
    const clock = new HouseClock(clockData(zone, start, end), BRITISH);
    for (let at = Date.parse(start); at < Date.parse(end); at += 7 * MINUTE) {
      const { hour, minute } = shown(zone, at);
      assert.equal(clock.minute(at), hour * 60 + minute, new Date(at).toISOString());
    }
  });

  test(`${zone} from ${start}: the next time of day is the first moment that shows it`, () => {
    const clock = new HouseClock(clockData(zone, start, end), BRITISH);
    const from = Date.parse(start);
    for (let wanted = 0; wanted < 1440; wanted += 35) {
      let at = from;
      while (at < Date.parse(end) && shown(zone, at).hour * 60 + shown(zone, at).minute !== wanted) {
        at += 5 * MINUTE;
      }
      // What a day does not have is another test's.
      if (at < Date.parse(end)) {
        assert.equal(clock.next(wanted, from), at, String(wanted));
      }
    }
  });
}

test("a time that the clock skips comes at the moment at which it is passed", () => {
  const clock = new HouseClock(clockData("Europe/London", "2026-03-28T16:00Z", "2026-03-30T00:00Z"), BRITISH);
  // 01:30 on 29 March 2026: the clock goes from 00:59 to 02:00 at 01:00 UTC.
  assert.equal(clock.next(90, Date.parse("2026-03-29T00:10Z")), Date.parse("2026-03-29T01:00Z"));
  assert.equal(clock.next(130, Date.parse("2026-03-29T00:10Z")), Date.parse("2026-03-29T01:10Z"));
});

test("hours of the axis: 23 on the short day and 25 on the long one, each with one midnight", () => {
  for (const [day, zone, hours] of /** @type {const} */ ([
    ["2026-03-29", "Europe/London", 23],
    ["2026-10-25", "Europe/London", 25],
  ])) {
    const start = Date.parse(`${day}T00:00Z`) - (hours === 25 ? 60 * MINUTE : 0);
    const end = start + hours * 60 * MINUTE;
    const data = clockData(zone, new Date(start).toISOString(), new Date(end).toISOString());
    const ticks = new HouseClock(data, BRITISH).ticks(start, end - 1);
    assert.equal(ticks.length, hours);
    assert.deepEqual(
      ticks.filter(({ midnight }) => midnight).map(({ at }) => at),
      [start],
    );
  }
});

test("times are written as the profile asks, whatever the language does by itself", () => {
  const data = { zone: "UTC", segments: [{ from: "2026-11-26T00:00:00+00:00", offset_minutes: 0 }] };
  const evening = Date.parse("2026-11-26T21:04Z");
  const plain = (/** @type {string} */ written) => written.replaceAll(/\s/g, " ");
  assert.equal(new HouseClock(data, BRITISH).time(evening), "21:04");
  assert.equal(plain(new HouseClock(data, AMERICAN).time(evening)), "9:04 PM");
  assert.equal(new HouseClock(data, { ...AMERICAN, time_format: "24" }).time(evening), "21:04");
  assert.equal(plain(new HouseClock(data, { ...BRITISH, time_format: "12" }).written("00:30")), "12:30 am");
  assert.equal(new HouseClock(data, BRITISH).written("00:30"), "00:30");
});

test("another day is named beside the time", () => {
  const data = { zone: "UTC", segments: [{ from: "2026-11-26T00:00:00+00:00", offset_minutes: 0 }] };
  const clock = new HouseClock(data, BRITISH);
  const now = Date.parse("2026-11-26T21:04Z"); // a Thursday
  assert.equal(clock.timeAndDay(now, now), "21:04");
  assert.equal(clock.timeAndDay(Date.parse("2026-11-27T00:20Z"), now), "Friday, 00:20");
});
