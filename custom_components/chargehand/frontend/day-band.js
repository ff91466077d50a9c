/** The picture of the day: prices, battery with its windows, solar and house, from some hours ago until tomorrow evening. */

import { BandDrawing } from "./band-drawing.js";
import { layOut } from "./band-layout.js";
import { vessels } from "./band-windows.js";
import { Cursor } from "./cursor.js";
import { define } from "./elements.js";
import { TimeScale, ValueScale } from "./scale.js";

/** @import {View} from "./band-view.js" */
/** @import {HouseClock} from "./house-clock.js" */
/** @import {Texts} from "./texts.js" */
/** @import {Course, Day, Selected, Side, Working} from "./types.js" */

const HOUR = 3_600_000;
const MINUTE = 60_000;

export class DayBand extends HTMLElement {
  /** @type {Day | null} */
  #day = null;
  /** @type {Working | null} */
  #working = null;
  /** @type {Selected} */
  #selected = null;
  /** @type {Texts | null} */
  #texts = null;
  /** @type {HouseClock | null} */
  #clock = null;
  #editable = false;
  /** The last course that was calculated of what is being changed: it stays until the next is there. @type {Course | null} */
  #rehearsed = null;
  /** @type {View | null} */
  #view = null;
  /** What is to be drawn with the next frame. @type {"nothing" | "windows" | "all"} */
  #due = "nothing";
  #width = 0;
  #drawing;
  #cursor;
  #size = new ResizeObserver(([entry]) => {
    const width = Math.floor(entry?.contentRect.width ?? 0);
    if (width !== this.#width) {
      this.#width = width;
      this.#draw("all");
    }
  });
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #minute;

  constructor() {
    super();
    this.#drawing = new BandDrawing(this.attachShadow({ mode: "open" }));
    this.#cursor = new Cursor(this.#drawing);
    this.#drawing.handles.addEventListener("click", this.#pick);
    this.#drawing.handles.addEventListener("focusin", this.#pick);
  }

  connectedCallback() {
    this.#size.observe(this);
    this.#tick();
    document.addEventListener("visibilitychange", this.#tick);
  }

  disconnectedCallback() {
    this.#size.disconnect();
    clearTimeout(this.#minute);
    document.removeEventListener("visibilitychange", this.#tick);
  }

  /** @param {Day | null} day */
  set day(day) {
    this.#day = day;
    this.#draw("all");
  }

  get day() {
    return this.#day;
  }

  /** @param {Working | null} working */
  set working(working) {
    this.#working = working;
    this.#rehearsed = working ? (working.course ?? this.#rehearsed) : null;
    this.#draw("windows");
  }

  get working() {
    return this.#working;
  }

  /** @param {Selected} selected */
  set selected(selected) {
    this.#selected = selected;
    this.#draw("windows");
  }

  get selected() {
    return this.#selected;
  }

  /** @param {Texts} texts */
  set texts(texts) {
    this.#texts = texts;
  }

  /** @param {HouseClock} clock */
  set clock(clock) {
    this.#clock = clock;
  }

  /** @param {boolean} editable */
  set editable(editable) {
    this.#editable = editable;
    this.#draw("windows");
  }

  /**
   * Return the moment at a place on the screen, also beyond the picture; milliseconds since 1970.
   * @param {number} clientX
   */
  momentAt(clientX) {
    return this.#view ? this.#view.time.at(clientX - this.#drawing.picture.getBoundingClientRect().left) : 0;
  }

  /**
   * Return the level in % at a place on the screen, also beyond the lane.
   * @param {number} clientY
   */
  levelAt(clientY) {
    return this.#view ? this.#view.level.at(clientY - this.#drawing.picture.getBoundingClientRect().top) : 0;
  }

  /** @param {"windows" | "all"} what */
  #draw(what) {
    if (this.#due === "nothing") {
      requestAnimationFrame(() => {
        const due = this.#due;
        this.#due = "nothing";
        this.#drawNow(due === "all" || !this.#view);
      });
    }
    this.#due = this.#due === "all" ? "all" : what;
  }

  /** @param {boolean} all */
  #drawNow(all) {
    const view = this.#viewNow();
    if (!view) {
      return;
    }
    this.#view = view;
    if (all) {
      this.#drawing.drawAll(view);
    } else {
      this.#drawing.drawWindows(view);
    }
    this.#cursor.view = view;
  }

  /** @returns {View | null} */
  #viewNow() {
    const [day, texts, clock, width] = [this.#day, this.#texts, this.#clock, this.#width];
    if (!day || !texts || !clock || width === 0) {
      return null;
    }
    const now = Date.now();
    const [start, end] = [Date.parse(day.band.start), Date.parse(day.band.end)];
    const known = [...day.past.solar_kw, ...day.past.load_kw].some((one) => one !== null);
    const layout = layOut(width, (end - start) / HOUR, {
      prices: day.prices.length > 0,
      energy: known || day.expected !== null || this.#rehearsed !== null,
    });
    const changed = this.#working !== null || day.draft !== null;
    return {
      ...{ day, texts, clock, layout, now, selected: this.#selected, editable: this.#editable },
      course: this.#rehearsed ?? day.expected,
      stale: changed && this.#working?.course === null,
      vessels: vessels(day, this.#working, this.#selected, clock, now),
      time: new TimeScale(start, end, layout.width),
      level: new ValueScale(0, 100, layout.level.bottom, layout.level.top),
      font: `${layout.label}px ${getComputedStyle(this).fontFamily}`,
    };
  }

  /** Move now on, at every full minute. */
  #tick = () => {
    clearTimeout(this.#minute);
    if (this.isConnected && !document.hidden) {
      this.#minute = setTimeout(this.#tick, MINUTE - (Date.now() % MINUTE) + 20);
      if (this.#view) {
        this.#view = { ...this.#view, now: Date.now() };
        this.#drawing.drawNow(this.#view);
        this.#cursor.view = this.#view;
      }
    }
  };

  /** @param {Event} event */
  #pick = (event) => {
    const handle = event.target instanceof Element ? event.target.closest("[data-handle]") : null;
    const side = /** @type {Side | null | undefined} */ (handle?.getAttribute("data-side"));
    const number = Number(handle?.getAttribute("data-number"));
    if (side && (this.#selected?.side !== side || this.#selected.number !== number)) {
      const detail = { side, number };
      this.dispatchEvent(new CustomEvent("window-select", { detail, bubbles: true, composed: true }));
    }
  };
}

define("chargehand-band", DayBand);
