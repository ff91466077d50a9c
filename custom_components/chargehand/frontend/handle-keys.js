/** Moves windows by the keyboard, with a handle of the band focused. A key that is held down is one edit. */

import { gripOf } from "./dragging.js";
import { moved, windowAt, withValue } from "./windows.js";

/** @import {Band, Grip} from "./dragging.js" */
/** @import {Editing} from "./editing.js" */
/** @import {Windows} from "./types.js" */

const HOUR = 60;

/** % by which a Page key moves a stop level. */
const LEVELS = 10;

/** Keys by how often they move, and which way. @type {Record<string, {way: number, by: "step" | "page" | "all"}>} */
const KEYS = {
  ArrowLeft: { way: -1, by: "step" },
  ArrowDown: { way: -1, by: "step" },
  ArrowRight: { way: 1, by: "step" },
  ArrowUp: { way: 1, by: "step" },
  PageDown: { way: -1, by: "page" },
  PageUp: { way: 1, by: "page" },
  Home: { way: -1, by: "all" },
  End: { way: 1, by: "all" },
};

export class HandleKeys {
  #band;
  #editing;
  #mayEdit;
  #removed;
  /** @type {Grip | null} The handle whose key is down. */
  #grip = null;

  /**
   * @param {Band} band
   * @param {Editing} editing
   * @param {() => boolean} mayEdit
   * @param {() => void} removed Called after a window was removed: its handles, and the focus on them, are gone.
   */
  constructor(band, editing, mayEdit, removed) {
    this.#band = band;
    this.#editing = editing;
    this.#mayEdit = mayEdit;
    this.#removed = removed;
    band.addEventListener("keydown", this.#down);
    band.addEventListener("keyup", this.#end);
    band.addEventListener("focusout", this.#left);
    band.addEventListener("focusin", this.#focused);
  }

  /** Leave the band. */
  stop() {
    this.#band.removeEventListener("keydown", this.#down);
    this.#band.removeEventListener("keyup", this.#end);
    this.#band.removeEventListener("focusout", this.#left);
    this.#band.removeEventListener("focusin", this.#focused);
    this.#end();
  }

  /** @param {FocusEvent} event */
  #focused = (event) => {
    const grip = gripOf(event);
    const { selected } = this.#editing;
    if (grip && !this.#grip && (selected?.side !== grip.side || selected.number !== grip.number)) {
      this.#editing.select(grip);
      this.#keepFocus(grip);
    }
  };

  /** @param {KeyboardEvent} event */
  #down = (event) => {
    const grip = gripOf(event);
    if (!grip || event.altKey || event.ctrlKey || event.metaKey) {
      return;
    }
    if (event.key === "Escape" && this.#grip) {
      this.#grip = null;
      event.preventDefault();
      event.stopPropagation();
      this.#editing.cancel();
      this.#keepFocus(grip);
      return;
    }
    if (!this.#mayEdit()) {
      return;
    }
    if (event.key === "Delete") {
      event.preventDefault();
      this.#end();
      this.#editing.remove(grip);
      this.#removed();
      return;
    }
    const key = KEYS[event.key];
    if (key) {
      event.preventDefault();
      if (!this.#grip) {
        this.#editing.begin();
        this.#grip = grip;
      }
      this.#editing.change(this.#by(grip, key));
      this.#keepFocus(grip);
    }
  };

  #end = () => {
    if (this.#grip) {
      const grip = this.#grip;
      this.#grip = null;
      this.#editing.end();
      this.#keepFocus(grip);
    }
  };

  /**
   * The band drops and regains the focus where it is drawn anew; only a focus that goes elsewhere ends the edit.
   * @param {FocusEvent} event
   */
  #left = (event) => {
    if (event.relatedTarget) {
      this.#end();
    }
  };

  /**
   * @param {Grip} grip
   * @param {{way: number, by: "step" | "page" | "all"}} key
   * @returns {Windows}
   */
  #by(grip, { way, by }) {
    const { day, shown } = this.#editing;
    if (!day) {
      return shown;
    }
    if (grip.handle === "lid") {
      const range = day.limits[grip.side]?.stop_level ?? null;
      const level = windowAt(shown, grip)?.stop_level;
      const steps = { step: range?.step ?? 1, page: LEVELS, all: Infinity };
      return level === undefined ? shown : withValue(shown, grip, "stop_level", level + way * steps[by], range);
    }
    const steps = { step: day.limits.step_minutes, page: HOUR, all: Infinity };
    return moved(shown, grip, grip.handle, way * steps[by], day.limits);
  }

  /**
   * Focus a handle again that was drawn anew.
   * @param {Grip} grip
   */
  #keepFocus({ side, number, handle }) {
    requestAnimationFrame(() => {
      const root = this.#band.shadowRoot;
      const focused = root?.activeElement;
      if (root && !focused?.hasAttribute("data-handle") && document.hasFocus()) {
        const where = `[data-side="${side}"][data-number="${number}"][data-handle="${handle}"][tabindex="0"]`;
        /** @type {HTMLElement | null} */ (root.querySelector(where))?.focus();
      }
    });
  }
}
