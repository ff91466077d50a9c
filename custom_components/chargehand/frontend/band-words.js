/** The picture in words, for who cannot see it: a summary, and a table of the windows. */

import { lastLevel, priceRuns } from "./courses.js";
import { make } from "./elements.js";

/** @import {View} from "./band-view.js" */

/**
 * Return the picture as a few sentences.
 * @param {View} view
 */
export function summary({ day, course, texts, clock, time, stale }) {
  const words = [texts.t("band_summary_span", { start: clock.timeAndDay(time.start), end: clock.timeAndDay(time.end) })];
  const level = lastLevel(day.past);
  if (level !== null) {
    words.push(texts.t("band_summary_level", { level: texts.number(level) }));
  }
  if (course && !stale && course.level.length > 0) {
    const at = (/** @type {number} */ value) => {
      const index = course.level.indexOf(value);
      return clock.timeAndDay(Date.parse(course.start) + (index + 1) * course.step_minutes * 60_000);
    };
    const [low, high] = [Math.min(...course.level), Math.max(...course.level)];
    const values = { low: texts.number(low), low_at: at(low), high: texts.number(high), high_at: at(high) };
    words.push(texts.t("band_summary_expected", values));
  }
  const ahead = priceRuns(day.prices).filter(({ to }) => to > Date.now());
  const [cheapest] = ahead.toSorted((one, other) => one.buy - other.buy);
  if (cheapest) {
    const price = texts.price(cheapest.buy, day.currency);
    words.push(texts.t("band_summary_cheapest", { price, start: clock.timeAndDay(cheapest.from), end: clock.timeAndDay(cheapest.to) }));
  }
  return words.join(" ");
}

/**
 * Fill the table of windows.
 * @param {Element} table
 * @param {View} view
 */
export function fillTable(table, { vessels, texts, clock }) {
  const heads = ["window", "start", "end", "stop", "power", "state"].map((key) => make("th", { scope: "col" }, texts.t(`band_table_${key}`)));
  const rows = vessels.map(({ side, number, from, to, stop, power, kind }) => {
    const cells = [
      clock.timeAndDay(from),
      clock.timeAndDay(to),
      stop === null ? "–" : `${texts.number(stop)} %`,
      power === null ? "–" : `${texts.number(power, 2)} kW`,
      texts.t(`band_kind_${kind}`),
    ];
    const head = make("th", { scope: "row" }, texts.t(`band_${side}_window`, { number }));
    return make("tr", {}, head, ...cells.map((cell) => make("td", {}, cell)));
  });
  table.replaceChildren(
    make("caption", {}, texts.t("band_table")),
    make("thead", {}, make("tr", {}, ...heads)),
    make("tbody", {}, ...rows),
  );
}
