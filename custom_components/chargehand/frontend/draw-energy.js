/** Solar upward and the house downward from one axis: filled as it was, hatched as expected. */

import { means } from "./courses.js";
import { areaPath, linePath } from "./paths.js";
import { ValueScale, roundUp } from "./scale.js";
import { svg } from "./svg.js";

/** @import {Value} from "./courses.js" */
/** @import {Point} from "./paths.js" */
/** @import {View} from "./band-view.js" */
/** @import {Course, Past} from "./types.js" */

/** The least part of the lane that either direction has, so that its label finds room. */
const LEAST = 0.25;

/**
 * Return the lane's scale in kW, up for solar, and the value that it is labelled by.
 * @param {{top: number, bottom: number}} lane
 * @param {Past} past
 * @param {Course | null} course
 */
export function energyScale({ top, bottom }, past, course) {
  const up = highest([...past.solar_kw, ...(course?.solar_kw ?? [])]);
  const down = highest([...past.load_kw, ...(course?.load_kw ?? [])]);
  // Half a kilowatt at least: a sleeping house is not to look like a busy one.
  const all = Math.max(up + down, 0.5);
  const [high, low] = [Math.max(up, all * LEAST) * 1.06, Math.max(down, all * LEAST) * 1.06];
  const tick = roundUp(Math.max(high, low) / 2.4);
  return { scale: new ValueScale(-low, high, bottom, top), tick };
}

/**
 * @param {View} view
 * @returns {SVGElement[]}
 */
export function drawEnergy({ day, course, layout, time }) {
  if (!layout.energy) {
    return [];
  }
  const { scale } = energyScale(layout.energy, day.past, course);
  const zero = scale.y(0);
  return [
    ...drawn(day.past, "past"),
    ...(course ? drawn(course, "expected") : []),
    svg("line", { class: "base", x1: 0, x2: time.width, y1: zero, y2: zero }),
  ];

  /**
   * @param {Past | Course} from
   * @param {"past" | "expected"} kind
   */
  function drawn(from, kind) {
    return [
      ...area("solar", from.solar_kw, (value) => scale.y(value)),
      ...area("house", from.load_kw, (value) => scale.y(-value)),
    ];

    /**
     * @param {"solar" | "house"} name
     * @param {(number | null)[]} values
     * @param {(value: number) => number} y
     */
    function area(name, values, y) {
      /** @type {Point[]} */
      const points = toEdges(means(from, values), from.step_minutes).map(([at, value]) =>
        value === null ? null : [time.x(at), y(Math.max(value, 0))],
      );
      const d = areaPath(points, zero);
      // Along the axis there is nothing to see, at night.
      const above = points.map((point, index) =>
        [points[index - 1], point, points[index + 1]].some((near) => near && near[1] !== zero) ? point : null,
      );
      return [
        svg("path", { class: `${name} ${kind}`, d }),
        ...(kind === "expected" ? [svg("path", { d, fill: `url(#hatch-${name})` })] : []),
        svg("path", { class: `${name}-line ${kind}`, d: linePath(above) }),
      ];
    }
  }
}

/**
 * Return a course with its first and last value kept up to the edges of their steps.
 * @param {Value[]} values
 * @param {number} step Minutes.
 * @returns {Value[]}
 */
function toEdges(values, step) {
  const [first, last, half] = [values[0], values.at(-1), step * 30_000];
  return first && last ? [[first[0] - half, first[1]], ...values, [last[0] + half, last[1]]] : [];
}

/** @param {(number | null)[]} values */
function highest(values) {
  return values.reduce((/** @type {number} */ most, value) => Math.max(most, value ?? 0), 0);
}
