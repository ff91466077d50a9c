/** From time and values to pixels and back, and the round numbers that an axis is labelled with. */

/** Moments in milliseconds since 1970 on pixels from the left. */
export class TimeScale {
  #start;
  #perPixel;

  /**
   * @param {number} start
   * @param {number} end Later than `start`.
   * @param {number} width Pixels.
   */
  constructor(start, end, width) {
    this.start = start;
    this.end = end;
    this.width = width;
    this.#start = start;
    this.#perPixel = (end - start) / width;
  }

  /** @param {number} moment */
  x(moment) {
    return (moment - this.#start) / this.#perPixel;
  }

  /** @param {number} x */
  at(x) {
    return this.#start + x * this.#perPixel;
  }
}

/** Values on pixels from the top: `low` is at `bottom`, `high` at `top`. */
export class ValueScale {
  /**
   * @param {number} low
   * @param {number} high Higher than `low`.
   * @param {number} bottom Pixels.
   * @param {number} top Pixels.
   */
  constructor(low, high, bottom, top) {
    this.low = low;
    this.high = high;
    this.bottom = bottom;
    this.top = top;
  }

  /** @param {number} value */
  y(value) {
    return this.bottom + ((value - this.low) / (this.high - this.low)) * (this.top - this.bottom);
  }

  /** @param {number} y */
  at(y) {
    return this.low + ((y - this.bottom) / (this.top - this.bottom)) * (this.high - this.low);
  }
}

/**
 * Return the smallest of 1, 2, 5, 10, 20 … (and of their tenths and so on) that is at least `value`.
 * @param {number} value Above 0.
 */
export function roundUp(value) {
  const power = 10 ** Math.floor(Math.log10(value));
  // A little less than each: 0.1 + 0.2 is not 0.3.
  const digit = [1, 2, 5].find((one) => one * power >= value * (1 - 1e-9)) ?? 10;
  return digit * power;
}

/**
 * Return every how many hours an axis has labels, so that they keep apart.
 * @param {number} hourWidth Pixels of one hour.
 * @param {number} labelWidth Pixels of the widest label, with the space that it wants around it.
 */
export function hoursBetween(hourWidth, labelWidth) {
  return [1, 2, 3, 4, 6, 12].find((hours) => hours * hourWidth >= labelWidth) ?? 24;
}

/**
 * Return which of the labels fit beside each other: earlier ones in the list go first.
 * @template {{from: number, to: number}} T
 * @param {T[]} labels Their places in pixels.
 * @param {number} [gap] Pixels between two of them.
 * @returns {T[]}
 */
export function apart(labels, gap = 4) {
  /** @type {T[]} */
  const placed = [];
  for (const label of labels) {
    if (placed.every((other) => label.to + gap <= other.from || other.to + gap <= label.from)) {
      placed.push(label);
    }
  }
  return placed;
}
