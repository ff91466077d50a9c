/** The values of a day's courses by moment. */

/** @import {Course, Past, Price} from "./types.js" */

/** A moment in milliseconds since 1970, and a value; null where nothing is known. @typedef {[number, number | null]} Value */

const MINUTE = 60_000;

/** What is younger and not recorded yet is no gap: statistics come some minutes late. */
const LATE = 20 * MINUTE;

/**
 * Return the values of a course in the middle of its steps: each is the mean of one.
 * @param {{start: string, step_minutes: number}} course
 * @param {(number | null)[]} values
 * @returns {Value[]}
 */
export function means({ start, step_minutes: step }, values) {
  const first = Date.parse(start);
  return values.map((value, index) => [first + (index + 0.5) * step * MINUTE, value]);
}

/**
 * Return the level up to now. The last known one stands until now, unless it is older than an hour.
 * @param {Past} past
 * @param {number} now
 * @returns {Value[]}
 */
export function pastLevel(past, now) {
  const values = means(past, past.level)
    // The step that has begun has what was just read, though its middle may be yet to come.
    .map(([at, value]) => /** @type {Value} */ (at - (past.step_minutes / 2) * MINUTE <= now ? [Math.min(at, now), value] : [at, value]))
    .filter(([at, value]) => at <= now && (value !== null || now - at > LATE));
  const known = values.findLastIndex(([, value]) => value !== null);
  const last = values[known];
  return last && now - last[0] <= 60 * MINUTE ? [...values.slice(0, known + 1), [now, last[1]]] : values;
}

/**
 * Return an expected level: it begins with what is known now, and each value is that of its step's end.
 * @param {Course} course
 * @param {"level" | "low" | "high"} name
 * @param {number | null} known The level now, where it is known.
 * @param {number} [now] The moment of that; the course's start where it is not given.
 * @returns {[number, number][]}
 */
export function expectedLevel(course, name, known, now = 0) {
  const { start, step_minutes: step } = course;
  const [from, values] = [Date.parse(start), course[name]];
  /** @type {[number, number][]} */
  const ends = values.map((value, index) => [from + (index + 1) * step * MINUTE, value]);
  const first = known ?? course.level[0];
  const begin = Math.max(from, known === null ? from : now);
  return first === undefined ? [] : [[begin, first], ...ends.filter(([at]) => at > begin)];
}

/**
 * Return a course's value at a moment, between its values in proportion; null outside and in gaps.
 * @param {Value[]} values By moment.
 * @param {number} at
 */
export function valueAt(values, at) {
  const next = values.findIndex(([moment]) => moment >= at);
  const [after, before] = [values[next], values[next - 1]];
  if (!after) {
    return null;
  }
  if (after[0] === at) {
    return after[1];
  }
  if (!before || before[1] === null || after[1] === null) {
    return null;
  }
  return before[1] + ((at - before[0]) / (after[0] - before[0])) * (after[1] - before[1]);
}

/**
 * Return the value of the step that a moment is in; null outside and in gaps.
 * @param {{start: string, step_minutes: number}} course
 * @param {(number | null)[]} values
 * @param {number} at
 */
export function stepAt({ start, step_minutes: step }, values, at) {
  return values[Math.floor((at - Date.parse(start)) / (step * MINUTE))] ?? null;
}

/**
 * Return the last level that is known.
 * @param {Past} past
 */
export function lastLevel(past) {
  return past.level.findLast((level) => level !== null) ?? null;
}

/** @typedef {"cheap" | "usual" | "expensive"} Rank */

/**
 * Return how a price stands among the day's: in the lowest or highest quarter of what they range over.
 * Where they range over less than a tenth of the highest, all are usual.
 * @param {Price[]} prices
 * @returns {Rank[]}
 */
export function ranks(prices) {
  const buys = prices.map(({ buy }) => buy);
  const [low, high] = [Math.min(...buys), Math.max(...buys)];
  const range = high - low;
  return buys.map((buy) => {
    if (range <= Math.abs(high) / 10) {
      return "usual";
    }
    return buy <= low + range / 4 ? "cheap" : buy >= high - range / 4 ? "expensive" : "usual";
  });
}

/** @typedef {{from: number, to: number, buy: number, sell: number | null, rank: Rank}} Run */

/** What was joined of prices before: several parts of the picture ask. @type {WeakMap<Price[], Run[]>} */
const joined = new WeakMap();

/**
 * Return prices with equal neighbours joined, and each one's rank.
 * @param {Price[]} prices Not changed in place.
 * @returns {Run[]}
 */
export function priceRuns(prices) {
  const before = joined.get(prices);
  if (before) {
    return before;
  }
  /** @type {Run[]} */
  const runs = [];
  const ranked = ranks(prices);
  prices.forEach(({ start, end, buy, sell }, index) => {
    const [from, to, last] = [Date.parse(start), Date.parse(end), runs.at(-1)];
    if (last && last.to === from && last.buy === buy && last.sell === sell) {
      last.to = to;
    } else {
      runs.push({ from, to, buy, sell, rank: ranked[index] ?? "usual" });
    }
  });
  joined.set(prices, runs);
  return runs;
}
