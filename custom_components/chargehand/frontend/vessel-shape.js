/** Where a window stands in the battery's lane, and where it can be taken hold of. */

/** @import {Vessel} from "./band-windows.js" */
/** @import {Layout} from "./band-layout.js" */
/** @import {TimeScale, ValueScale} from "./scale.js" */
/** @import {Side} from "./types.js" */

/** Pixels that a finger needs. */
const TOUCH = 44;

/** Pixels that a window is drawn wide at least. */
const NARROWEST = 3;

/** @typedef {{x: number, y: number, width: number, height: number}} Box */

/**
 * A vessel in pixels: a charge window stands on the floor and its lid is its top, a discharge window hangs from the ceiling
 * and its lid is its lower end.
 * @typedef {{left: number, right: number, lid: number, foot: number}} Shape
 */

/**
 * @param {Vessel} vessel
 * @param {TimeScale} time
 * @param {ValueScale} level
 * @returns {Shape}
 */
export function shapeOf({ side, from, to, stop }, time, level) {
  const [left, right] = [time.x(Math.max(from, time.start)), time.x(Math.min(to, time.end))];
  const more = Math.max(NARROWEST - (right - left), 0) / 2;
  const foot = side === "charge" ? level.bottom : level.top;
  const lid = level.y(stop ?? (side === "charge" ? 100 : 0));
  return { left: left - more, right: right + more, lid, foot };
}

/** @typedef {"start" | "end" | "body" | "lid"} Handle */

/**
 * Return where each handle is taken hold of: at least 44 pixels wide and high, none over another. A window that is too narrow
 * for three of them has its edges' handles beside it. The lid's reaches outward where the window is low.
 * @param {Shape} shape
 * @param {Side} side
 * @param {Layout} layout
 * @returns {Record<Handle, Box>}
 */
export function handleBoxes({ left, right, lid, foot }, side, { width }) {
  const middle = (left + right) / 2;
  const half = Math.max((right - left) / 2 - TOUCH / 2, TOUCH / 2);
  const up = side === "charge" ? 1 : -1;
  const height = Math.abs(foot - lid);
  const inward = Math.min(TOUCH / 2, height / 3);
  // From the lid to the foot, and beyond it where that is less than a finger.
  const near = lid + up * inward;
  const far = near + up * Math.max(height - inward, TOUCH);
  const [top, bottom] = [Math.min(near, far), Math.max(near, far)];
  const tall = { y: top, height: bottom - top };
  const lidTop = side === "charge" ? near - TOUCH : near;
  return {
    body: { x: middle - half, width: 2 * half, ...tall },
    start: { x: inside(middle - half - TOUCH), width: TOUCH, ...tall },
    end: { x: inside(middle + half), width: TOUCH, ...tall },
    lid: { x: middle - half, width: 2 * half, y: lidTop, height: TOUCH },
  };

  /** @param {number} x */
  function inside(x) {
    return Math.min(Math.max(x, 0), width - TOUCH);
  }
}

/**
 * Return the vessel's walls and floor: it is open at its lid.
 * @param {Shape} shape
 */
export function wallsPath({ left, right, lid, foot }) {
  return `M${one(left)} ${one(lid)}V${one(foot)}H${one(right)}V${one(lid)}`;
}

/**
 * Return an arrow that points where the level goes: up while the battery is filled, down while it is emptied.
 * @param {Shape} shape
 * @param {Side} side
 */
export function arrowPath({ left, right, lid, foot }, side) {
  const [x, room] = [(left + right) / 2, Math.abs(foot - lid)];
  const length = Math.min(22, room - 12);
  if (right - left < 16 || length < 10) {
    return "";
  }
  const up = side === "charge" ? 1 : -1;
  const middle = (lid + foot) / 2;
  const [tail, tip] = [middle + (up * length) / 2, middle - (up * length) / 2];
  const back = tip + up * 6;
  return `M${one(x)} ${one(tail)}V${one(tip)}M${one(x - 5)} ${one(back)}L${one(x)} ${one(tip)}L${one(x + 5)} ${one(back)}`;
}

/** @param {number} value */
function one(value) {
  return String(Math.round(value * 10) / 10);
}
