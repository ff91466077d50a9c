/** The strip of prices: a column each, cheap hours hatched with a mark, and what they are where there is room. */

import { priceRuns } from "./courses.js";
import { columnsPath, stepsPath } from "./paths.js";
import { ValueScale, apart } from "./scale.js";
import { svg, textWidth } from "./svg.js";

/** @import {Rank} from "./courses.js" */
/** @import {View} from "./band-view.js" */

/** How a rank is marked besides its colour. @type {Record<Rank, string>} */
const MARKS = { cheap: "▾ ", usual: "", expensive: "▴ " };

/** Pixels that no price is shorter than. */
const SHORTEST = 20;

/** @type {Rank[]} */
const RANKS = ["usual", "expensive", "cheap"];

/** @typedef {{from: number, to: number, left: number, right: number, y: number, buy: number, sell: number | null, rank: Rank}} Step */

/**
 * @param {View} view
 * @returns {SVGElement[]}
 */
export function drawPrices({ day, layout, time, texts, font, now }) {
  const lane = layout.prices;
  const runs = priceRuns(day.prices).filter(({ from, to }) => to > time.start && from < time.end);
  if (!lane || runs.length === 0) {
    return [];
  }
  const buys = runs.map(({ buy }) => buy);
  // Above the columns there is room for their labels, below zero for those of the lowest.
  const below = Math.min(...buys) < 0;
  const scale = new ValueScale(Math.min(0, ...buys), Math.max(0, ...buys) || 1, lane.bottom - (below ? 15 : 0), lane.top + 17);
  const steps = runs.map((run) => ({
    ...run,
    from: Math.max(time.x(run.from), 0),
    to: Math.min(time.x(run.to), time.width),
    left: 0,
    right: 0,
    y: scale.y(run.buy),
  }));
  const zero = scale.y(0);
  const columns = RANKS.map((rank) => {
    const d = columnsPath(
      steps.filter((step) => step.rank === rank),
      zero,
    );
    return svg("path", { class: `price ${rank}`, d });
  });
  const hatch = columnsPath(
    steps.filter(({ rank }) => rank === "cheap"),
    zero,
  );
  return [
    ...columns,
    svg("path", { class: "hatch", d: hatch, fill: "url(#hatch-cheap)" }),
    svg("path", { class: "price-line", d: stepsPath(steps) }),
    svg("line", { class: "base", x1: 0, x2: time.width, y1: zero, y2: zero }),
    ...labels(steps, day.currency),
  ];

  /**
   * Label the lowest and the highest, then whatever has room, the widest first.
   * @param {Step[]} all
   * @param {string} currency
   */
  function labels(all, currency) {
    const [low, high] = [Math.min(...buys), Math.max(...buys)];
    const told = all
      // Writing a price takes longer than drawing it: what can have no room is not written at all.
      .filter(({ from, to, buy }) => to - from >= SHORTEST || buy === low || buy === high)
      .map((step) => {
        const text = MARKS[step.rank] + texts.price(step.buy, currency);
        const width = textWidth(text, font);
        const middle = Math.min(Math.max(besideNow(step, width), width / 2), time.width - width / 2);
        return { text, step, middle, from: middle - width / 2, to: middle + width / 2, room: step.to - step.from - width };
      })
      .filter(({ room, step }) => room >= 6 || step.buy === low || step.buy === high)
      .sort((one, other) => first(other.step) - first(one.step) || other.room - one.room);
    return apart(told, 8).map(({ text, step, middle }) =>
      svg("text", { class: `price-label ${step.rank}`, x: middle, y: step.buy < 0 ? step.y + 12 : step.y - 5 }, text),
    );

    /**
     * Return the middle of a step, or of its wider part where the line of now would cross the label.
     * @param {Step} step
     * @param {number} width
     */
    function besideNow({ from, to }, width) {
      const [middle, line] = [(from + to) / 2, time.x(now)];
      const [before, after] = [line - from, to - line];
      if (Math.abs(middle - line) > width / 2 + 4 || Math.max(before, after) < width + 8) {
        return middle;
      }
      return before > after ? (from + line) / 2 : (line + to) / 2;
    }

    /** @param {Step} step */
    function first({ buy }) {
      return Number(buy === low || buy === high);
    }
  }
}

/**
 * Mark the cheap hours through the lane of the battery, where windows are put.
 * @param {View} view
 * @returns {SVGElement[]}
 */
export function drawCheapHours({ day, layout, time }) {
  const { top, bottom } = layout.level;
  const cheap = priceRuns(day.prices).filter(({ rank, from, to }) => rank === "cheap" && to > time.start && from < time.end);
  const steps = cheap.map(({ from, to }) => ({
    from: Math.max(time.x(from), 0),
    to: Math.min(time.x(to), time.width),
    y: top,
  }));
  return [svg("path", { class: "cheap-hours", d: columnsPath(steps, bottom) })];
}
