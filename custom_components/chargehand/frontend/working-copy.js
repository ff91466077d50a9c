/**
 * The windows as this screen has them: what the inverter holds or the draft says, until somebody here changes them; then the
 * copy, until it is the draft that all screens show.
 */

import { same } from "./windows.js";

/** @import {Windows} from "./types.js" */

/** What was found when other windows arrived: nothing new, the copy's own draft, or another hand's. @typedef {"same" | "own" | "theirs"} Arrival */

const NONE = { charge: [], discharge: [] };

export class WorkingCopy {
  /** @type {Windows} What the server shows: the draft, else what is held. */
  #base = NONE;
  /** @type {Windows | null} */
  #copy = null;
  /** @type {{copy: Windows | null, shown: Windows} | null} How it was at the beginning of the drag that is on. */
  #before = null;
  /** Copies that are on their way to become the draft. @type {Windows[]} */
  #sent = [];
  /** Whether other windows have arrived since the last were sent. */
  #arrived = false;
  /** Whether the copy is laid out, and the server's windows are to take its place when they come. */
  #awaited = false;
  /** @type {Windows[]} */
  #earlier = [];

  /** The windows to show. */
  get shown() {
    return this.#copy ?? this.#base;
  }

  /** Whether what is shown is only on this screen. */
  get working() {
    return this.#copy !== null;
  }

  get dragging() {
    return this.#before !== null;
  }

  get canUndo() {
    return this.#earlier.length > 0;
  }

  /**
   * Take what the server shows now.
   * @param {Windows} windows
   * @returns {Arrival}
   */
  arrive(windows) {
    const news = !same(windows, this.#base);
    const own = this.#sent.some((sent) => same(sent, windows));
    this.#base = windows;
    if (!news) {
      return "same";
    }
    this.#arrived = true;
    if (own || this.#sent.length > 0 || this.#awaited) {
      // While one is laid out, what arrives is that, perhaps rounded to what the inverter can hold.
      if (this.#awaited && !this.dragging) {
        this.#copy = null;
      }
      this.#awaited = false;
      this.#settle();
      return "own";
    }
    if (!this.dragging) {
      this.drop();
    }
    return "theirs";
  }

  /** Begin a drag: what arrives meanwhile does not replace the copy. */
  begin() {
    this.#before ??= { copy: this.#copy, shown: this.shown };
  }

  /**
   * Change the copy, in a drag or by itself.
   * @param {Windows} windows
   * @returns {boolean} Whether anything is different now.
   */
  change(windows) {
    if (same(windows, this.shown)) {
      return false;
    }
    if (!this.dragging) {
      this.#earlier.push(this.shown);
    }
    this.#awaited = false;
    this.#copy = windows;
    return true;
  }

  /**
   * End the drag, and return whether it changed anything.
   * @returns {boolean}
   */
  end() {
    const before = this.#before;
    this.#before = null;
    if (before === null) {
      return false;
    }
    if (same(before.shown, this.shown)) {
      this.#copy = before.copy;
      this.#settle();
      return false;
    }
    this.#earlier.push(before.shown);
    return true;
  }

  /** Give the drag up: the windows are as they were when it began, or as the server has them since. */
  cancel() {
    if (this.#before) {
      this.#copy = this.#before.copy;
      this.#before = null;
      this.#settle();
    }
  }

  /**
   * Go back to the windows before the last edit.
   * @returns {boolean} Whether there was one.
   */
  undo() {
    const earlier = this.#earlier.pop();
    if (earlier) {
      this.#copy = earlier;
    }
    return earlier !== undefined;
  }

  /** Return the windows to lay out as the draft. What arrives until `laid` or `refused` is taken for theirs. */
  send() {
    this.#sent.push(this.shown);
    this.#arrived = false;
    return this.shown;
  }

  /**
   * Say that windows are the draft now, or on the inverter.
   * @param {Windows} windows
   */
  laid(windows) {
    this.#sent = [];
    if (this.#copy && !this.dragging && same(this.#copy, windows)) {
      this.#copy = this.#arrived ? null : this.#copy;
      this.#awaited = !this.#arrived;
      this.#settle();
    }
  }

  /** Say that the copy did not become the draft: it stays on this screen. */
  refused() {
    this.#sent = [];
  }

  /** Forget the edits that led here. */
  conclude() {
    this.#earlier = [];
  }

  /** Drop the copy and its edits: the server's windows count. */
  drop() {
    this.#copy = this.#before = null;
    this.#sent = [];
    this.#awaited = false;
    this.#earlier = [];
  }

  /** End a copy that is what the server shows. */
  #settle() {
    if (this.#copy && !this.dragging && same(this.#copy, this.#base)) {
      this.#copy = null;
      this.#awaited = false;
    }
  }
}
