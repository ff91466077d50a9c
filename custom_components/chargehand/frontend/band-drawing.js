/** The picture's layers, and what is drawn into which. */

import { STYLE } from "./band-style.js";
import { MEDIA_STYLE } from "./band-style-media.js";
import { fillTable, summary } from "./band-words.js";
import { drawGutter, drawNow, drawTimeAxis } from "./draw-axis.js";
import { drawEnergy } from "./draw-energy.js";
import { drawExpectedLevel, drawLevelGrid, drawPastLevel } from "./draw-level.js";
import { drawCheapHours, drawPrices } from "./draw-prices.js";
import { drawEdgeTimes, drawVesselLabels, drawVessels } from "./draw-windows.js";
import { make } from "./elements.js";
import { showKinds } from "./read-out-bar.js";
import { change, svg } from "./svg.js";
import { WindowHandles } from "./window-handles.js";

/** @import {View} from "./band-view.js" */

const HOUR = 3_600_000;

/** How much of the past a scrolled picture begins with. */
const BEFORE = 2 * HOUR;

export class BandDrawing {
  bar = make("div", { class: "bar", "aria-hidden": "true" });
  #style = make("style", {}, STYLE + MEDIA_STYLE);
  #kinds = make("div", { class: "kinds", "aria-hidden": "true" });
  #table = make("table");
  #gutter = svg("svg", { class: "gutter", "aria-hidden": "true" });
  #within = svg("rect", { x: 0, y: 0 });
  #stage = make("div", { class: "stage" });
  scroller = make("div", { class: "scroller" });
  picture = svg("svg", { class: "picture", role: "group" });
  /** Where the pointer reads a moment; also by the keyboard. */
  field = svg("rect", { class: "field", tabindex: "0", role: "slider" });
  cursor = svg("g", { class: "cursor", "aria-hidden": "true" });
  handles = svg("g", { class: "holds" });
  #handles = new WindowHandles(this.handles);
  #layers = {
    ground: layer(),
    vessels: layer(),
    // A course may go on after the picture's end.
    past: layer("clipped"),
    expected: layer("clipped"),
    energy: layer("clipped"),
    prices: layer(),
    axis: layer(),
    labels: layer(),
    now: layer("now"),
  };
  /** The band's start and width that the scroller was put to: the user's own scrolling stays. */
  #scrolledFor = "";

  /** @param {ShadowRoot} root */
  constructor(root) {
    const { ground, vessels, past, expected, energy, prices, axis, labels, now } = this.#layers;
    const clip = svg("clipPath", { id: "within" }, this.#within);
    this.picture.append(patterns(), clip, ground, vessels, past, expected, energy, prices, axis);
    this.picture.append(this.field, labels, now, this.cursor, this.handles);
    this.scroller.append(this.picture);
    this.#stage.append(this.#gutter, this.scroller);
    // A table is as wide as its words, whatever its style says; what is around it is not.
    root.append(this.#style, this.bar, this.#stage, this.#kinds, make("div", { class: "unseen" }, this.#table));
    this.scroller.addEventListener("scroll", () => this.#markEnds(), { passive: true });
  }

  /** @param {View} view */
  drawAll(view) {
    const { layout } = view;
    this.#stage.style.setProperty("--label", `${layout.label}px`);
    const { ground, past, prices, axis } = this.#layers;
    change(this.#gutter, { width: layout.gutter, height: layout.height });
    change(this.picture, { width: layout.width, height: layout.height });
    change(this.#within, { width: layout.width, height: layout.height });
    change(this.field, { x: 0, y: layout.head.bottom, width: layout.width, height: layout.axis.top - layout.head.bottom });
    ground.replaceChildren(...drawCheapHours(view), ...drawLevelGrid(view));
    past.replaceChildren(...drawPastLevel(view));
    prices.replaceChildren(...drawPrices(view));
    axis.replaceChildren(...drawTimeAxis(view));
    this.drawNow(view);
    this.drawWindows(view);
    this.#scroll(view);
  }

  /**
   * Draw what changes while a window is dragged: the windows and what is expected under them.
   * @param {View} view
   */
  drawWindows(view) {
    const { vessels, expected, energy, labels } = this.#layers;
    vessels.replaceChildren(...drawVessels(view));
    expected.replaceChildren(...drawExpectedLevel(view));
    energy.replaceChildren(...drawEnergy(view));
    labels.replaceChildren(...drawVesselLabels(view), ...drawEdgeTimes(view));
    this.#gutter.replaceChildren(...drawGutter(view));
    this.#handles.draw(view);
    showKinds(this.#kinds, view);
    fillTable(this.#table, view);
    change(this.picture, { "aria-label": summary(view) });
  }

  /** @param {View} view */
  drawNow(view) {
    const x = Math.round(view.time.x(view.now) * 10) / 10;
    const within = x >= 0 && x <= view.layout.width;
    change(this.#layers.now, { transform: `translate(${x} 0)`, display: within ? null : "none" });
    this.#layers.now.replaceChildren(...drawNow(view));
  }

  /**
   * Begin with now in sight, and tonight after it.
   * @param {View} view
   */
  #scroll({ layout, time, now, day }) {
    this.scroller.classList.toggle("scrolls", layout.scrolls);
    const wanted = `${day.band.start} ${layout.width}`;
    if (layout.scrolls && wanted !== this.#scrolledFor) {
      this.scroller.scrollTo({ left: time.x(now - BEFORE), behavior: "instant" });
    }
    this.#scrolledFor = wanted;
    if (layout.scrolls) {
      this.#markEnds();
    }
  }

  #markEnds() {
    const { scrollLeft, clientWidth, scrollWidth, classList } = this.scroller;
    classList.toggle("first", scrollLeft < 2);
    classList.toggle("last", scrollLeft + clientWidth > scrollWidth - 2);
  }
}

/** @param {string} [name] */
function layer(name = "") {
  return svg("g", { class: `layer ${name}`.trim(), "aria-hidden": "true" });
}

/** Return the hatchings: cheap hours rise, solar that is expected rises, the house falls. */
function patterns() {
  const hatch = (/** @type {string} */ name, /** @type {number} */ turn, /** @type {number} */ size) =>
    svg(
      "pattern",
      { id: `hatch-${name}`, width: size, height: size, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${turn})` },
      svg("line", { class: `stripe-${name}`, x1: 0, x2: 0, y1: 0, y2: size, "stroke-width": 2 }),
    );
  return svg("defs", {}, hatch("cheap", 45, 6), hatch("solar", 45, 5), hatch("house", -45, 5));
}
