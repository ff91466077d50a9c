/** The battery's level: as it was, as a line above a filled area; as expected, as a line within its spread. */

import { expectedLevel, lastLevel, pastLevel } from "./courses.js";
import { areaPath, betweenPath, linePath } from "./paths.js";
import { svg } from "./svg.js";

/** @import {Value} from "./courses.js" */
/** @import {Point} from "./paths.js" */
/** @import {View} from "./band-view.js" */

/** Courses closer than so many % are drawn as one. */
const APART = 1;

/**
 * Draw the lines that every 50 % is read by, and every 25 % finer.
 * @param {View} view
 * @returns {SVGElement[]}
 */
export function drawLevelGrid({ level, time }) {
  return [0, 25, 50, 75, 100].map((value) =>
    svg("line", { class: value % 50 ? "grid fine" : "grid", x1: 0, x2: time.width, y1: level.y(value), y2: level.y(value) }),
  );
}

/**
 * Draw what was.
 * @param {View} view
 * @returns {SVGElement[]}
 */
export function drawPastLevel(view) {
  const points = pastLevel(view.day.past, view.now).map((value) => placed(value, view));
  return [
    svg("path", { class: "past-area", d: areaPath(points, view.level.bottom) }),
    svg("path", { class: "past-line", d: linePath(points) }),
  ];
}

/**
 * Draw what is expected under the windows that are shown, and, where they differ, under those on the inverter.
 * @param {View} view
 * @returns {SVGElement[]}
 */
export function drawExpectedLevel(view) {
  const { course, day, stale } = view;
  if (!course) {
    return [];
  }
  const known = lastLevel(day.past);
  const [level, low, high] = /** @type {const} */ (["level", "low", "high"]).map((name) =>
    expectedLevel(course, name, known, view.now).map((value) => at(value, view)),
  );
  const other = day.expected;
  const differs = other && other !== course && other.level.some((one, index) => Math.abs(one - (course.level[index] ?? one)) >= APART);
  return [
    svg("path", { class: "spread", d: betweenPath(low ?? [], high ?? []) }),
    ...(differs
      ? [svg("path", { class: "other-line", d: linePath(expectedLevel(other, "level", known, view.now).map((value) => at(value, view))) })]
      : []),
    svg("path", { class: stale ? "expected-line stale" : "expected-line", d: linePath(level ?? []) }),
  ];
}

/**
 * @param {Value} value
 * @param {View} view
 * @returns {Point}
 */
function placed([moment, value], view) {
  return value === null ? null : at([moment, value], view);
}

/**
 * @param {[number, number]} value
 * @param {View} view
 * @returns {[number, number]}
 */
function at([moment, value], { time, level }) {
  return [time.x(moment), level.y(value)];
}
