/** Rehearses what is shown: how the battery would go and what that costs, or why the inverter cannot hold it. */

import { messageOf } from "./calls.js";
import { Newest } from "./newest.js";
import { same } from "./windows.js";

/** @import {Calls, Rehearsal} from "./calls.js" */
/** @import {Windows} from "./types.js" */

/**
 * What is known of the windows that were last asked about. `fault` says why nothing could be calculated.
 * @typedef {Rehearsal & {windows: Windows, fault?: string}} Rehearsed
 */

export class Rehearsing {
  /** @type {Newest<Windows, Rehearsal>} */
  #newest;
  /** @type {Windows | null} */
  #asked = null;
  /** @type {Rehearsed | null} */
  #found = null;

  /**
   * @param {() => Calls} calls
   * @param {() => void} answered
   */
  constructor(calls, answered) {
    const take = (/** @type {Rehearsal} */ answer, /** @type {Windows} */ windows) => {
      this.#found = { ...answer, windows };
      answered();
    };
    this.#newest = new Newest(
      (windows) => calls().rehearse(windows),
      take,
      (fault, windows) => {
        this.#found = { reasons: [], windows, fault: messageOf(fault) };
        answered();
      },
      // Under a pointer that never rests, no question stays the newest: what is shown follows it by one answer.
      take,
    );
  }

  /** Whether an answer is still to come. */
  get busy() {
    return this.#newest.busy;
  }

  /**
   * Ask about windows, unless they are those that were asked about last.
   * @param {Windows} windows
   */
  ask(windows) {
    if (!this.#asked || !same(this.#asked, windows)) {
      this.again(windows);
    }
  }

  /**
   * Ask about windows, also if they were asked about before: what is known of the house has changed.
   * @param {Windows} windows
   */
  again(windows) {
    this.#asked = windows;
    this.#newest.ask(windows);
  }

  /**
   * Return what is known of windows; null while that is not known.
   * @param {Windows} windows
   */
  of(windows) {
    return this.#found && same(this.#found.windows, windows) ? this.#found : null;
  }

  /** The last course, also of earlier windows: shown until there is another. */
  get course() {
    return this.#found?.course ?? null;
  }

  /** What was found last, also of earlier windows: what a drag shows until it rests. @returns {Rehearsed | null} */
  get last() {
    return this.#found;
  }

  drop() {
    this.#asked = this.#found = null;
    this.#newest.drop();
  }
}
