/** What a window is taken hold of by. Handles are changed in place and put into order, so that none loses the focus or the pointer. */

import { change, svg } from "./svg.js";
import { handleBoxes, shapeOf } from "./vessel-shape.js";

/** @import {View} from "./band-view.js" */
/** @import {Vessel} from "./band-windows.js" */
/** @import {Attributes} from "./svg.js" */
/** @import {Handle, Shape} from "./vessel-shape.js" */

/** In the order in which Tab reaches them. @type {Handle[]} */
const HANDLES = ["body", "start", "end", "lid"];

export class WindowHandles {
  #layer;
  /** @type {Map<string, SVGGElement>} */
  #groups = new Map();

  /** @param {SVGGElement} layer */
  constructor(layer) {
    this.#layer = layer;
  }

  /** @param {View} view */
  draw(view) {
    // What is over and done lies in the way of what took its place; what somebody has in hand does not vanish.
    const inHand = (/** @type {Vessel} */ { side, number }) => view.selected?.side === side && view.selected.number === number;
    const shown = view.vessels.filter((one) => one.kind !== "replaced" && (one.next || one.to > view.now || inHand(one)));
    const keys = new Set(shown.map(({ key }) => key));
    for (const [key, group] of this.#groups) {
      if (!keys.has(key)) {
        group.remove();
        this.#groups.delete(key);
      }
    }
    for (const vessel of shown) {
      const group = this.#groups.get(vessel.key) ?? this.#make(vessel);
      this.#place(group, vessel, view);
    }
    this.#raise(shown, view);
  }

  /** @param {Vessel} vessel */
  #make({ key, side, number }) {
    const handles = HANDLES.map((handle) => {
      const names = { "data-side": side, "data-number": number, "data-handle": handle };
      return svg("g", names, svg("rect", { class: "hold", rx: 6 }), svg("path", { class: "stem" }), svg("rect", { class: "knob", rx: 3.5 }));
    });
    const group = svg("g", { class: `handles ${side}` }, ...handles);
    this.#groups.set(key, group);
    this.#layer.append(group);
    return group;
  }

  /**
   * @param {SVGGElement} group
   * @param {Vessel} vessel
   * @param {View} view
   */
  #place(group, vessel, view) {
    const { selected, layout, time, level } = view;
    const shape = shapeOf(vessel, time, level);
    const boxes = handleBoxes(shape, vessel.side, layout);
    // Its other times can be taken hold of as well; knobs at all of them would be too much.
    const chosen = vessel.next && selected?.side === vessel.side && selected.number === vessel.number;
    change(group, { class: `handles ${vessel.side}${chosen ? " selected" : ""}${view.editable ? " editable" : ""}` });
    HANDLES.forEach((handle, index) => {
      const element = group.children[index];
      const [hold, stem, knob] = element?.children ?? [];
      if (!element || !hold || !stem || !knob) {
        return;
      }
      const fits = handle !== "lid" || vessel.stop !== null;
      change(element, {
        ...(view.editable && fits ? spoken(handle, vessel, view) : onlyChosen(handle, vessel, view)),
        display: fits ? null : "none",
      });
      change(hold, { ...boxes[handle] });
      const { at, size, stemTo } = knobOf(handle, shape, boxes[handle]);
      change(knob, { x: at[0] - size[0] / 2, y: at[1] - size[1] / 2, width: size[0], height: size[1] });
      change(stem, { d: stemTo === null ? "" : `M${at[0]} ${at[1]}H${stemTo}` });
    });
  }

  /**
   * Put the selected window's handles above the others. What has the focus is not moved: that would take it away.
   * @param {Vessel[]} shown
   * @param {View} view
   */
  #raise(shown, { selected }) {
    const chosen = shown.filter(({ side, number }) => selected?.side === side && selected.number === number);
    const others = [...this.#layer.children];
    const top = chosen.map(({ key }) => this.#groups.get(key)).filter((group) => group !== undefined);
    if (top.length && !others.slice(-top.length).every((group) => top.includes(/** @type {SVGGElement} */ (group)))) {
      this.#layer.prepend(...others.filter((group) => !top.includes(/** @type {SVGGElement} */ (group))));
    }
  }
}

/**
 * Return where a handle's knob is, and to which edge a stem leads where it stands beside its window.
 * @param {Handle} handle
 * @param {Shape} shape
 * @param {{x: number, y: number, width: number, height: number}} box
 * @returns {{at: [number, number], size: [number, number], stemTo: number | null}}
 */
function knobOf(handle, { left, right, lid, foot }, box) {
  const middle = box.y + box.height / 2;
  if (handle === "lid") {
    return { at: [(left + right) / 2, lid], size: [22, 7], stemTo: null };
  }
  if (handle === "body") {
    return { at: [(left + right) / 2, foot], size: [0, 0], stemTo: null };
  }
  const edge = handle === "start" ? left : right;
  const inside = edge >= box.x + 4 && edge <= box.x + box.width - 4;
  return { at: [inside ? edge : box.x + box.width / 2, middle], size: [7, 22], stemTo: inside ? null : edge };
}

/**
 * @param {Handle} handle
 * @param {Vessel} vessel
 * @param {View} view
 * @returns {Attributes}
 */
function spoken(handle, vessel, view) {
  const { clock, texts, day } = view;
  const name = texts.t(`band_${vessel.side}_window`, { number: vessel.number });
  const tabindex = vessel.next ? "0" : "-1";
  if (handle === "body") {
    return onlyChosen(handle, vessel, view);
  }
  if (handle === "lid") {
    const range = day.limits[vessel.side]?.stop_level;
    return {
      ...{ tabindex, role: "slider", "aria-label": texts.t("band_stop_of", { window: name }), "aria-orientation": "vertical" },
      ...{ "aria-valuemin": range?.min ?? 0, "aria-valuemax": range?.max ?? 100, "aria-valuenow": vessel.stop ?? 0 },
      "aria-valuetext": `${texts.number(vessel.stop ?? 0)} %`,
    };
  }
  const at = handle === "start" ? vessel.from : vessel.to;
  return {
    ...{ tabindex, role: "slider", "aria-label": texts.t(`band_${handle}_of`, { window: name }) },
    ...{ "aria-valuemin": 0, "aria-valuemax": 1439, "aria-valuenow": clock.minute(at), "aria-valuetext": clock.timeAndDay(at) },
  };
}

/**
 * A window can be selected also where it cannot be changed.
 * @param {Handle} handle
 * @param {Vessel} vessel
 * @param {View} view
 * @returns {Attributes}
 */
function onlyChosen(handle, vessel, { clock, texts, selected }) {
  if (handle !== "body") {
    return { tabindex: null, role: null, "aria-label": null, "aria-hidden": null };
  }
  const { side, number, from, to, stop, kind } = vessel;
  const values = { number, start: clock.timeAndDay(from), end: clock.time(to), level: texts.number(stop ?? 0) };
  const times = texts.t(stop === null ? "band_window_times" : "band_window_times_and_level", values);
  const chosen = selected?.side === side && selected.number === number;
  return {
    ...{ tabindex: vessel.next ? "0" : "-1", role: "button", "aria-pressed": String(chosen) },
    "aria-label": [texts.t(`band_${side}_window`, { number }), times, texts.t(`band_kind_${kind}`)].join(", "),
  };
}
