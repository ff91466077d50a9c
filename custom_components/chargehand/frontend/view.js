/** What each part of the editor draws from. */

/** @import {Editing} from "./editing.js" */
/** @import {HouseClock} from "./house-clock.js" */
/** @import {Presses} from "./presses.js" */
/** @import {Texts} from "./texts.js" */
/** @import {Day} from "./types.js" */

/**
 * @typedef {object} View
 * @property {Editing} editing
 * @property {Presses} presses
 * @property {Day} day
 * @property {Texts} texts
 * @property {HouseClock} clock
 * @property {boolean} allowed Whether this inverter's windows may be changed here.
 * @property {boolean} mayEdit Whether they may be changed now: not while a change is on its way.
 * @property {(text: string) => void} announce Have a text read out.
 */

export {};
