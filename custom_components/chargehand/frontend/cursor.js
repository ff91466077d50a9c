/** Reads one moment of the picture: where the pointer is, where a finger pressed, or where the arrow keys went. */

import { showMoment } from "./read-out-bar.js";
import { readMoment, spokenMoment } from "./read-out.js";
import { change, svg } from "./svg.js";

/** @import {BandDrawing} from "./band-drawing.js" */
/** @import {View} from "./band-view.js" */

const MINUTE = 60_000;

/** Minutes by which keys move. @type {Record<string, number>} */
const KEYS = { ArrowLeft: -15, ArrowDown: -15, ArrowRight: 15, ArrowUp: 15, PageDown: -180, PageUp: 180, Home: -Infinity, End: Infinity };

export class Cursor {
  #drawing;
  /** @type {View | null} */
  #view = null;
  /** The moment that is read; null for now. @type {number | null} */
  #at = null;
  #line = svg("line");
  #dot = svg("circle", { r: 4 });

  /** @param {BandDrawing} drawing */
  constructor(drawing) {
    this.#drawing = drawing;
    drawing.cursor.append(this.#line, this.#dot);
    const { picture, field } = drawing;
    picture.addEventListener("pointermove", (event) => {
      if (event.pointerType !== "touch") {
        this.#point(event);
      }
    });
    picture.addEventListener("click", (event) => this.#point(event));
    picture.addEventListener("pointerleave", (event) => {
      if (event.pointerType !== "touch") {
        this.#read(null);
      }
    });
    field.addEventListener("keydown", this.#key);
    field.addEventListener("blur", () => this.#read(null));
  }

  /** @param {View} view */
  set view(view) {
    this.#view = view;
    this.#show();
  }

  /** @param {MouseEvent} event */
  #point(event) {
    if (this.#view) {
      const { left } = this.#drawing.picture.getBoundingClientRect();
      const at = this.#view.time.at(event.clientX - left);
      this.#read(Math.round(at / (5 * MINUTE)) * 5 * MINUTE);
    }
  }

  /** @param {KeyboardEvent} event */
  #key = (event) => {
    const view = this.#view;
    const by = KEYS[event.key];
    if (!view || event.altKey || event.ctrlKey || event.metaKey) {
      return;
    }
    if (event.key === "Escape" && this.#at !== null) {
      event.preventDefault();
      this.#read(null);
    } else if (by !== undefined) {
      event.preventDefault();
      const step = 15 * MINUTE;
      const from = this.#at ?? view.now;
      const next = Number.isFinite(by) ? Math.round((from + by * MINUTE) / step) * step : by;
      this.#read(next);
      this.#reveal(view);
    }
  };

  /** @param {number | null} at */
  #read(at) {
    if (at !== this.#at && this.#view) {
      const { start, end } = this.#view.time;
      this.#at = at === null ? null : Math.min(Math.max(at, start), end);
      this.#show();
    }
  }

  #show() {
    const view = this.#view;
    if (!view) {
      return;
    }
    const { time, layout, level } = view;
    showMoment(this.#drawing.bar, view, this.#at);
    const at = this.#at ?? view.now;
    const moment = readMoment(view, at);
    const x = time.x(at);
    change(this.#drawing.cursor, { display: this.#at === null ? "none" : null });
    change(this.#line, { x1: x, x2: x, y1: layout.head.bottom, y2: layout.axis.top });
    change(this.#dot, { cx: x, cy: level.y(moment.level ?? 0), display: moment.level === null ? "none" : null });
    change(this.#drawing.field, {
      ...{ "aria-label": view.texts.t("band_moment"), "aria-orientation": "horizontal" },
      ...{ "aria-valuemin": 0, "aria-valuemax": Math.round((time.end - time.start) / MINUTE) },
      ...{ "aria-valuenow": Math.round((at - time.start) / MINUTE), "aria-valuetext": spokenMoment(view, moment) },
    });
  }

  /**
   * Scroll to the moment that was reached by a key.
   * @param {View} view
   */
  #reveal({ time, layout }) {
    const { scroller } = this.#drawing;
    if (layout.scrolls && this.#at !== null) {
      const x = time.x(this.#at);
      const { scrollLeft, clientWidth } = scroller;
      if (x < scrollLeft + 20 || x > scrollLeft + clientWidth - 20) {
        scroller.scrollTo({ left: x - clientWidth / 2 });
      }
    }
  }
}
