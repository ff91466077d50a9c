/** What every part of the picture is drawn from. */

/** @import {Layout} from "./band-layout.js" */
/** @import {Vessel} from "./band-windows.js" */
/** @import {HouseClock} from "./house-clock.js" */
/** @import {TimeScale, ValueScale} from "./scale.js" */
/** @import {Texts} from "./texts.js" */
/** @import {Course, Day, Selected} from "./types.js" */

/**
 * @typedef {object} View
 * @property {Day} day
 * @property {Course | null} course What is expected under the windows that are shown.
 * @property {boolean} stale Whether the course is that of other windows, until theirs is calculated.
 * @property {Vessel[]} vessels
 * @property {Selected} selected
 * @property {boolean} editable
 * @property {Texts} texts
 * @property {HouseClock} clock
 * @property {Layout} layout
 * @property {TimeScale} time
 * @property {ValueScale} level
 * @property {number} now
 * @property {string} font The labels' font, as CSS writes it.
 */

export {};
