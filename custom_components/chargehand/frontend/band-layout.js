/** Where everything is in the picture: its lanes from top to bottom, and how wide it is drawn. */

/** @typedef {{top: number, bottom: number}} Lane */

/**
 * @typedef {object} Layout
 * @property {number} gutter Pixels on the left, for the labels of values; they stay when the rest is scrolled.
 * @property {number} width Pixels of the picture right of the gutter; wider than its place where it scrolls.
 * @property {boolean} scrolls
 * @property {number} height Pixels of all.
 * @property {Lane} head The lane of the label of now.
 * @property {Lane | null} prices
 * @property {Lane} level
 * @property {Lane | null} energy
 * @property {Lane} axis
 * @property {number} label Pixels that labels are high.
 */

/** Heights of the lanes in pixels, by the width from which they are so. */
const SIZES = [
  { from: 1100, gutter: 52, label: 13, prices: 72, level: 280, energy: 124, gap: 18 },
  { from: 560, gutter: 44, label: 12, prices: 60, level: 216, energy: 96, gap: 16 },
];

/** The same for a phone. */
const SMALLEST = { from: 0, gutter: 40, label: 12, prices: 52, level: 190, energy: 76, gap: 14 };

const HEAD = 24;
const AXIS = 40;

/** Pixels right of the picture, so that its last label is whole. */
const MARGIN = 8;

/** Less than so many pixels an hour are too few to hit a window; then it is drawn wider than its place, and scrolls. */
const FEWEST = 15;
const SCROLLED = 22;

/**
 * Return where the lanes are.
 * @param {number} width Pixels that there are.
 * @param {number} hours What the picture shows.
 * @param {{prices: boolean, energy: boolean}} parts What there is to show besides the battery.
 * @returns {Layout}
 */
export function layOut(width, hours, parts) {
  const size = SIZES.find(({ from }) => width >= from) ?? SMALLEST;
  const place = Math.max(width - size.gutter - MARGIN, 160);
  const scrolls = place / hours < FEWEST;
  let top = HEAD;
  const lane = (/** @type {number} */ height) => {
    const found = { top, bottom: top + height };
    top += height + size.gap;
    return found;
  };
  const prices = parts.prices ? lane(size.prices) : null;
  const level = lane(size.level);
  const energy = parts.energy ? lane(size.energy) : null;
  const end = top - size.gap + 6;
  return {
    gutter: size.gutter,
    width: scrolls ? Math.round(hours * SCROLLED) : place,
    scrolls,
    height: end + AXIS,
    head: { top: 0, bottom: HEAD },
    prices,
    level,
    energy,
    axis: { top: end, bottom: end + AXIS },
    label: size.label,
  };
}
