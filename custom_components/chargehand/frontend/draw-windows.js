/** The windows as vessels in the battery's lane, and what is written at them. */

import { mark } from "./marks.js";
import { apart } from "./scale.js";
import { svg, textWidth } from "./svg.js";
import { arrowPath, shapeOf, wallsPath } from "./vessel-shape.js";

/** @import {View} from "./band-view.js" */
/** @import {Vessel} from "./band-windows.js" */
/** @import {Shape} from "./vessel-shape.js" */

/**
 * Draw the vessels below the lines of the level.
 * @param {View} view
 * @returns {SVGElement[]}
 */
export function drawVessels(view) {
  return view.vessels.map((vessel) => {
    const shape = shapeOf(vessel, view.time, view.level);
    const { left, right, lid, foot } = shape;
    const [top, height] = [Math.min(lid, foot), Math.abs(foot - lid)];
    // What has no stop level of its own has no lid to show it.
    const out = vessel.kind === "replaced" || vessel.stop === null ? 0 : 3;
    return svg(
      "g",
      { class: classes("vessel", vessel, view) },
      svg("rect", { class: "fill", x: left, y: top, width: right - left, height }),
      svg("path", { class: "walls", d: wallsPath(shape) }),
      svg("line", { class: "lid", x1: left - out, x2: right + out, y1: lid, y2: lid }),
      svg("path", { class: "arrow", d: vessel.kind === "replaced" ? "" : arrowPath(shape, vessel.side) }),
    );
  });
}

/**
 * Draw what is written at the vessels, above the lines: a mark, the stop level, the power.
 * @param {View} view
 * @returns {SVGElement[]}
 */
export function drawVesselLabels(view) {
  const { vessels, time, level, texts, font, layout } = view;
  const told = vessels.map((vessel) => {
    const shape = shapeOf(vessel, time, level);
    const text = vessel.stop === null || vessel.kind === "replaced" ? "" : `${texts.number(vessel.stop)} %`;
    const width = 14 + (text ? textWidth(text, font) : 0);
    // What is replaced is marked at its end, where what replaces it covers it least.
    const middle = vessel.kind === "replaced" ? shape.right - 9 : (shape.left + shape.right) / 2;
    const x = Math.min(Math.max(middle, width / 2), layout.width - width / 2);
    return { vessel, shape, text, width, x, from: x - width / 2, to: x + width / 2 };
  });
  // Selected ones first, then those that count, each side at its own height.
  const order = told.toSorted((one, other) => weight(other.vessel, view) - weight(one.vessel, view));
  const placed = ["charge", "discharge"].flatMap((side) => apart(order.filter(({ vessel }) => vessel.side === side)));
  return placed.flatMap(({ vessel, shape, text, width, x }) => {
    const y = labelLine(vessel, shape, view);
    const left = x - width / 2;
    const group = svg(
      "g",
      { class: classes("vessel-label", vessel, view) },
      svg("rect", { class: "plate", x: left - 2, y: y - 12, width: width + 4, height: 16, rx: 4 }),
      mark(vessel.kind, left + 6, y - 4),
    );
    if (text) {
      group.append(svg("text", { x: left + 14, y }, text));
    }
    return [group, ...power(vessel, shape, view)];
  });
}

/**
 * Draw the times of the window that is selected, above all others.
 * @param {View} view
 * @returns {SVGElement[]}
 */
export function drawEdgeTimes(view) {
  return view.vessels.flatMap((vessel) => times(vessel, shapeOf(vessel, view.time, view.level), view));
}

/**
 * Return the line on which a vessel's mark is: outside its lid, or within where there is no room.
 * @param {Vessel} vessel
 * @param {Shape} shape
 * @param {View} view
 */
function labelLine({ side }, { lid }, { level }) {
  // As far from the lid as its knob is high.
  const [above, below] = [lid - 8, lid + 18];
  if (side === "charge") {
    return above < level.top + 10 ? below : above;
  }
  return below > level.bottom - 2 ? above : below;
}

/**
 * @param {Vessel} vessel
 * @param {Shape} shape
 * @param {View} view
 */
function power({ side, kind, power: kilowatts }, { left, right, lid, foot }, { texts, font }) {
  const text = kilowatts === null ? "" : `${texts.number(kilowatts, 1)} kW`;
  if (!text || kind === "replaced" || right - left < textWidth(text, font) + 8 || Math.abs(foot - lid) < 64) {
    return [];
  }
  return [svg("text", { class: "power", x: (left + right) / 2, y: side === "charge" ? foot - 7 : foot + 15 }, text)];
}

/**
 * @param {Vessel} vessel
 * @param {Shape} shape
 * @param {View} view
 */
function times(vessel, { left, right, foot }, { selected, clock, level, font }) {
  if (!vessel.next || vessel.kind === "replaced" || selected?.side !== vessel.side || selected.number !== vessel.number) {
    return [];
  }
  const y = foot === level.bottom ? foot - 7 : foot + 15;
  const [from, to] = [clock.time(vessel.from), clock.time(vessel.to)];
  const plate = (/** @type {number} */ x, /** @type {number} */ width) =>
    svg("rect", { class: "plate full", x, y: y - 13, width, height: 17, rx: 4 });
  const wide = (/** @type {string} */ text) => textWidth(text, `bold ${font}`) + 6;
  return [
    plate(left - 3 - wide(from), wide(from)),
    plate(right + 3, wide(to)),
    svg("text", { class: "edge-time end", x: left - 6, y }, from),
    svg("text", { class: "edge-time", x: right + 6, y }, to),
  ];
}

/**
 * @param {Vessel} vessel
 * @param {View} view
 */
function weight({ kind, side, number, from, to }, { selected }) {
  const chosen = selected?.side === side && selected.number === number ? 4 : 0;
  return chosen + (kind === "replaced" ? 0 : 2) + (to - from) / 1e9;
}

/**
 * @param {string} first
 * @param {Vessel} vessel
 * @param {View} view
 */
function classes(first, { side, kind, number, to }, { selected, day, now }) {
  const chosen = selected?.side === side && selected.number === number;
  const off = day.held?.armed === false && kind !== "drafted";
  return [first, side, kind, chosen ? "selected" : "", to <= now ? "over" : "", off ? "off" : ""].filter(Boolean).join(" ");
}
