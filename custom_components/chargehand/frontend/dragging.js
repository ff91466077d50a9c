/** Moves windows by the band's handles: with a pointer, and with the keyboard. Draws nothing; the band may be drawn anew at any time. */

import { DAY } from "./day-minutes.js";
import { moved, windowAt, withValue } from "./windows.js";

/** @import {Editing} from "./editing.js" */
/** @import {Place} from "./windows.js" */
/** @import {Side, Windows} from "./types.js" */

/** @typedef {"start" | "end" | "body" | "lid"} Handle */

/** @typedef {Place & {handle: Handle}} Grip */

/** The picture whose handles are moved. @typedef {HTMLElement & {momentAt(x: number): number, levelAt(y: number): number}} Band */

/** Pixels that a pointer moves before it drags: less is a press. */
const SLACK = 3;

/** Minutes that a pointer falls on at least: a pixel of a small picture is more. Keys and fields know each step. */
const GRID = 5;

const MINUTE_MS = 60_000;

export class Dragging {
  #band;
  #editing;
  #mayEdit;
  /** @type {{grip: Grip, pointer: number, x: number, y: number, windows: Windows, moving: boolean} | null} */
  #drag = null;

  /**
   * @param {Band} band
   * @param {Editing} editing
   * @param {() => boolean} mayEdit
   */
  constructor(band, editing, mayEdit) {
    this.#band = band;
    this.#editing = editing;
    this.#mayEdit = mayEdit;
    band.addEventListener("pointerdown", this.#press);
    band.addEventListener("touchstart", this.#touch, { passive: false });
  }

  /** Leave the band. A drag that is on is given up. */
  stop() {
    this.#band.removeEventListener("pointerdown", this.#press);
    this.#band.removeEventListener("touchstart", this.#touch);
    this.#giveUp();
  }

  /**
   * Keep a finger that drags from scrolling the page: browsers heed `touch-action` on the picture as a whole only.
   * @param {TouchEvent} event
   */
  #touch = (event) => {
    if (this.#drag && event.cancelable) {
      event.preventDefault();
    }
  };

  /** @param {PointerEvent} event */
  #press = (event) => {
    const grip = gripOf(event);
    if (!grip || event.button !== 0 || this.#drag) {
      return;
    }
    const { selected } = this.#editing;
    const chosen = selected?.side === grip.side && selected.number === grip.number;
    this.#editing.select(grip);
    // A finger on the window itself scrolls the picture, until the window is chosen.
    if (!this.#mayEdit() || (event.pointerType === "touch" && grip.handle === "body" && !chosen)) {
      return;
    }
    const { pointerId: pointer, clientX: x, clientY: y } = event;
    this.#drag = { grip, pointer, x, y, windows: this.#editing.shown, moving: false };
    // The band keeps the pointer, not the handle: a handle may be drawn anew while it moves.
    this.#band.setPointerCapture(pointer);
    this.#listen("addEventListener");
  };

  /** @param {PointerEvent} event */
  #move = (event) => {
    const drag = this.#drag;
    if (!drag || event.pointerId !== drag.pointer) {
      return;
    }
    if (!drag.moving && Math.hypot(event.clientX - drag.x, event.clientY - drag.y) < SLACK) {
      return;
    }
    if (!drag.moving) {
      drag.moving = true;
      this.#editing.begin();
    }
    this.#editing.change(this.#at(drag, event));
  };

  /** @param {PointerEvent} event */
  #release = (event) => {
    const drag = this.#drag;
    if (!drag || event.pointerId !== drag.pointer) {
      return;
    }
    this.#leave();
    if (drag.moving) {
      this.#editing.end();
    }
  };

  #giveUp = () => {
    const moving = this.#drag?.moving;
    this.#leave();
    if (moving) {
      this.#editing.cancel();
    }
  };

  /** @param {KeyboardEvent} event */
  #escape = (event) => {
    if (event.key === "Escape") {
      event.preventDefault();
      event.stopPropagation();
      this.#giveUp();
    }
  };

  #leave() {
    if (this.#drag) {
      this.#listen("removeEventListener");
      this.#drag = null;
    }
  }

  /** @param {"addEventListener" | "removeEventListener"} how */
  #listen(how) {
    this.#band[how]("pointermove", /** @type {EventListener} */ (this.#move));
    this.#band[how]("pointerup", /** @type {EventListener} */ (this.#release));
    this.#band[how]("pointercancel", this.#giveUp);
    window[how]("keydown", /** @type {EventListener} */ (this.#escape), true);
  }

  /**
   * Return the windows with the handle where the pointer is. What was there at the beginning counts, so nothing adds up.
   * @param {{grip: Grip, x: number, y: number, windows: Windows}} drag
   * @param {PointerEvent} event
   */
  #at({ grip, x, y, windows }, event) {
    const { day } = this.#editing;
    if (!day) {
      return windows;
    }
    if (grip.handle === "lid") {
      const range = day.limits[grip.side]?.stop_level ?? null;
      const level = windowAt(windows, grip)?.stop_level;
      const by = this.#band.levelAt(event.clientY) - this.#band.levelAt(y);
      return level === undefined ? windows : withValue(windows, grip, "stop_level", level + by, range);
    }
    const by = this.#minutesBetween(this.#band.momentAt(x), this.#band.momentAt(event.clientX));
    const step = day.limits.step_minutes;
    return moved(windows, grip, grip.handle, by, day.limits, step * Math.ceil(GRID / step));
  }

  /**
   * Return by how many minutes the house's clock goes on between two moments, which is another time on days of 23 and 25 hours.
   * @param {number} from
   * @param {number} to
   */
  #minutesBetween(from, to) {
    const { clock } = this.#editing;
    const shown = clock ? clock.minute(to) - clock.minute(from) : 0;
    return shown + DAY * Math.round(((to - from) / MINUTE_MS - shown) / DAY);
  }
}

/**
 * Return the handle that an event is about; null where it is about none.
 * @param {Event} event
 * @returns {Grip | null}
 */
export function gripOf(event) {
  for (const element of event.composedPath()) {
    if (element instanceof Element && element.hasAttribute("data-handle")) {
      return {
        side: /** @type {Side} */ (element.getAttribute("data-side")),
        number: Number(element.getAttribute("data-number")),
        handle: /** @type {Handle} */ (element.getAttribute("data-handle")),
      };
    }
  }
  return null;
}
