/** What the picture is measured by: hours and days below it, values on the left, and now. */

import { lastLevel } from "./courses.js";
import { energyScale } from "./draw-energy.js";
import { apart, hoursBetween } from "./scale.js";
import { svg, textWidth } from "./svg.js";

/** @import {View} from "./band-view.js" */

/**
 * Draw hours and days, with a line through all lanes at midnight.
 * @param {View} view
 * @returns {SVGElement[]}
 */
export function drawTimeAxis({ clock, layout, time, font }) {
  const { top, bottom } = layout.axis;
  const all = clock.ticks(time.start, time.end);
  // The labels of one day are those of any.
  const widest = Math.max(0, ...all.slice(0, 24).map(({ label }) => textWidth(label, font)));
  const every = hoursBetween(time.width / ((time.end - time.start) / 3_600_000), widest + 14);
  const labels = clock.ticks(time.start, time.end, every).map((tick) => {
    const half = textWidth(tick.label, font) / 2;
    const x = time.x(tick.at);
    return { ...tick, x, from: x - half, to: x + half };
  });
  // A label at either end would be cut off; an hour that comes twice in autumn keeps its first label.
  const placed = apart(labels.filter(({ from, to }) => from >= 0 && to <= time.width));
  // At the picture's own edges there is nothing to part.
  const midnights = all.filter(({ at, midnight }) => midnight && at > time.start && at < time.end).map(({ at }) => at);
  // Where only a part is in sight, the day is named at noon too.
  const noons = layout.scrolls ? clock.ticks(time.start, time.end, 12).filter(({ midnight }) => !midnight) : [];
  const days = [time.start, ...midnights, ...noons.map(({ at }) => at)].toSorted((one, other) => one - other);
  const told = new Set(placed.map(({ at }) => at));
  const length = (/** @type {number} */ at) => (midnights.includes(at) ? bottom - top : told.has(at) ? 6 : 3);
  return [
    svg("path", { class: "tick", d: all.map(({ at }) => `M${time.x(at).toFixed(1)} ${top}v${length(at)}`).join("") }),
    ...midnights.map((at) => svg("line", { class: "midnight", x1: time.x(at), x2: time.x(at), y1: layout.head.bottom, y2: top })),
    ...placed.map(({ x, label }) => svg("text", { class: "hour", x, y: top + 17 }, label)),
    ...days.flatMap((at, index) => {
      const [x, end] = [time.x(at), time.x(days[index + 1] ?? time.end)];
      const name = clock.weekday(at);
      const fits = textWidth(`bold ${name}`, font) < end - x;
      return fits ? [svg("text", { class: "weekday", x: x + (midnights.includes(at) ? 6 : 0), y: bottom - 4 }, name)] : [];
    }),
  ];
}

/**
 * Draw the labels of values, which stay where they are when the picture is scrolled.
 * @param {View} view
 * @returns {SVGElement[]}
 */
export function drawGutter({ day, course, layout, level, texts }) {
  const x = layout.gutter - 6;
  const label = (/** @type {number} */ y, /** @type {string} */ text) => svg("text", { class: "value", x, y: y + 4 }, text);
  const found = [0, 50, 100].map((value) => label(level.y(value), value === 100 ? `${texts.number(value)} %` : texts.number(value)));
  if (layout.energy) {
    const { scale, tick } = energyScale(layout.energy, day.past, course);
    const values = [tick, 0, -tick].filter((value) => value <= scale.high && value >= scale.low);
    found.push(...values.map((value) => label(scale.y(value), texts.number(Math.abs(value), 1))));
    found.push(svg("text", { class: "value unit", x, y: layout.energy.bottom + 12 }, "kW"));
  }
  return found;
}

/**
 * Draw now: a line through all lanes and its label. It is moved as a whole.
 * @param {View} view
 * @returns {SVGElement[]}
 */
export function drawNow({ clock, day, layout, level, texts, time, now, font }) {
  const known = lastLevel(day.past);
  const text = texts.t("band_now", { time: clock.time(now) });
  const half = textWidth(text, `bold ${font}`) / 2 + 8;
  // The label stays inside, the line is where now is.
  const shift = Math.min(Math.max(0, half - time.x(now)), 2 * half) - Math.max(0, half - (time.width - time.x(now)));
  return [
    svg("line", { class: "now-line", x1: 0, x2: 0, y1: layout.head.bottom - 4, y2: layout.axis.top }),
    svg("rect", { class: "now-label", x: shift - half, y: 2, width: 2 * half, height: 18, rx: 9 }),
    svg("text", { class: "now-text", x: shift, y: 15.5 }, text),
    ...(known === null ? [] : [svg("circle", { class: "now-level", cx: 0, cy: level.y(known), r: 4 })]),
  ];
}
