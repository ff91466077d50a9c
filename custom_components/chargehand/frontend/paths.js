/** Paths of courses: one string each, however many values there are. */

/** A place in pixels; null where nothing is known. @typedef {[number, number] | null} Point */

/** @param {number} value */
const written = (value) => String(Math.round(value * 10) / 10);

/** @param {[number, number]} point */
const place = ([x, y]) => `${written(x)} ${written(y)}`;

/**
 * Return the stretches without a gap.
 * @param {Point[]} points
 * @returns {[number, number][][]}
 */
export function stretches(points) {
  /** @type {[number, number][][]} */
  const found = [];
  let open = false;
  for (const point of points) {
    if (!point) {
      open = false;
    } else if (open) {
      found.at(-1)?.push(point);
    } else {
      found.push([point]);
      open = true;
    }
  }
  return found;
}

/**
 * Return a line through the points, broken where nothing is known.
 * @param {Point[]} points
 */
export function linePath(points) {
  // One value between two gaps is a short stroke: a line of no length is not drawn.
  return stretches(points)
    .map((stretch) => `M${(stretch.length === 1 ? [...stretch, ...stretch] : stretch).map(place).join("L")}`)
    .join("");
}

/**
 * Return the area between the line and a level.
 * @param {Point[]} points
 * @param {number} base Pixels from the top.
 */
export function areaPath(points, base) {
  return stretches(points)
    .map((stretch) => {
      const [first, last] = [stretch[0]?.[0] ?? 0, stretch.at(-1)?.[0] ?? 0];
      return `M${place([first, base])}L${stretch.map(place).join("L")}L${place([last, base])}Z`;
    })
    .join("");
}

/**
 * Return the area between two lines of the same length: a spread.
 * @param {[number, number][]} low
 * @param {[number, number][]} high
 */
export function betweenPath(low, high) {
  return low.length === 0 ? "" : `M${high.map(place).join("L")}L${low.toReversed().map(place).join("L")}Z`;
}

/**
 * Return the columns of steps, each from a level to its own.
 * @param {{from: number, to: number, y: number}[]} steps Pixels.
 * @param {number} base Pixels from the top.
 */
export function columnsPath(steps, base) {
  return steps
    .map(({ from, to, y }) => `M${place([from, base])}V${written(y)}H${written(to)}V${written(base)}Z`)
    .join("");
}

/**
 * Return the line along the top of steps, broken where one does not begin where another ends.
 * @param {{from: number, to: number, y: number}[]} steps Pixels, from left to right.
 */
export function stepsPath(steps) {
  return steps
    .map(({ from, to, y }, index) => {
      const before = steps[index - 1];
      const joined = before && Math.abs(before.to - from) < 0.01;
      return joined ? `V${written(y)}H${written(to)}` : `M${place([from, y])}H${written(to)}`;
    })
    .join("");
}
