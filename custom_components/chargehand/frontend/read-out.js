/** What the picture shows at one moment, as values and as words. */

import { expectedLevel, lastLevel, pastLevel, stepAt, valueAt } from "./courses.js";

/** @import {View} from "./band-view.js" */
/** @import {Vessel} from "./band-windows.js" */
/** @import {Price} from "./types.js" */

/**
 * @typedef {object} Moment
 * @property {number} at
 * @property {boolean} expected Whether it is yet to come.
 * @property {Price | null} price
 * @property {number | null} level %.
 * @property {[number, number] | null} spread % between which the level is expected.
 * @property {number | null} solar kW.
 * @property {number | null} house kW.
 * @property {Vessel[]} windows Those that act then.
 */

/** One line of the read-out. @typedef {{key: string, name: string, value: string}} Entry */

/**
 * Return what is known of a moment.
 * @param {View} view
 * @param {number} at
 * @returns {Moment}
 */
export function readMoment({ day, course, vessels, now }, at) {
  const price = day.prices.find(({ start, end }) => Date.parse(start) <= at && at < Date.parse(end)) ?? null;
  const windows = vessels.filter(({ kind, from, to }) => kind !== "replaced" && from <= at && at < to);
  if (at <= now || !course) {
    const [solar, house] = [stepAt(day.past, day.past.solar_kw, at), stepAt(day.past, day.past.load_kw, at)];
    const level = at <= now ? valueAt(pastLevel(day.past, now), at) : null;
    // The step that is going on has no mean yet: the one before stands for it.
    const ongoing = now - at < 2 * day.past.step_minutes * 60_000;
    return {
      ...{ at, expected: at > now, price, level, spread: null, windows },
      solar: solar ?? (ongoing ? last(day.past.solar_kw) : null),
      house: house ?? (ongoing ? last(day.past.load_kw) : null),
    };
  }
  const first = lastLevel(day.past);
  const level = valueAt(expectedLevel(course, "level", first, now), at);
  const low = valueAt(expectedLevel(course, "low", first, now), at);
  const high = valueAt(expectedLevel(course, "high", first, now), at);
  return {
    ...{ at, expected: true, price, level, windows },
    spread: low === null || high === null ? null : [low, high],
    solar: stepAt(course, course.solar_kw, at),
    house: stepAt(course, course.load_kw, at),
  };
}

/**
 * Return a moment in words, in the order of the picture.
 * @param {View} view
 * @param {Moment} moment
 * @returns {Entry[]}
 */
export function entries({ texts, day, layout }, { price, level, spread, solar, house }) {
  const unknown = "–";
  const percent = (/** @type {number} */ value) => texts.number(value);
  const power = (/** @type {number | null} */ value) => (value === null ? unknown : `${texts.number(value, 1)} kW`);
  const wide = spread && Math.round(spread[1]) - Math.round(spread[0]) >= 1;
  const levelText = level === null ? unknown : `${percent(level)} %`;
  const found = [];
  if (layout.prices) {
    const value = price ? texts.price(price.buy, day.currency) : unknown;
    found.push({ key: "price", name: texts.t("band_price"), value });
  }
  found.push({
    key: "level",
    name: texts.t("band_battery"),
    value: wide ? `${levelText} (${percent(spread[0])}–${percent(spread[1])})` : levelText,
  });
  if (layout.energy) {
    found.push({ key: "solar", name: texts.t("band_solar"), value: power(solar) });
    found.push({ key: "house", name: texts.t("band_house"), value: power(house) });
  }
  return found;
}

/**
 * Return a moment as one text that is read out.
 * @param {View} view
 * @param {Moment} moment
 */
export function spokenMoment(view, moment) {
  const windows = moment.windows.map(({ side, number }) => view.texts.t(`band_${side}_window`, { number }));
  const parts = entries(view, moment).map(({ name, value }) => `${name} ${value}`);
  return [momentName(view, moment), ...parts, ...windows].join(", ");
}

/**
 * @param {View} view
 * @param {Moment} moment
 */
export function momentName({ clock, texts }, { at, expected }) {
  const time = clock.timeAndDay(at);
  return expected ? texts.t("band_expected_at", { time }) : time;
}

/** @param {(number | null)[]} values */
function last(values) {
  return values.findLast((value) => value !== null) ?? null;
}
