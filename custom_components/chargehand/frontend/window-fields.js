/** The fields of one window: start, end, stop level, limit. What is typed becomes an edit when it is done. */

import { make } from "./elements.js";
import { minuteOf, ofDay } from "./day-minutes.js";
import { shownMinute, typedMinute } from "./time-entry.js";
import { windowAt, withTime, withValue } from "./windows.js";

/** @import {Range, Window} from "./types.js" */
/** @import {Place} from "./windows.js" */
/** @import {View} from "./view.js" */

/** @typedef {{name: "start" | "end" | "stop_level" | "power" | "current", input: HTMLInputElement, unit: string, label: HTMLElement, typing: boolean}} Field */

export class WindowFields {
  element = make("div", { class: "fields" });
  /** @type {Field[]} */
  #fields = [];
  #place;
  #note = make("p", { class: "field-note" });
  /** @type {View | null} */
  #view = null;

  /** @param {Place} place */
  constructor(place) {
    this.#place = place;
    this.#note.id = `note-${place.side}-${place.number}`;
  }

  /**
   * @param {View} view
   * @param {string} reasons The ids of the elements that say what is wrong with the window.
   */
  show(view, reasons) {
    this.#view = view;
    const window = windowAt(view.editing.shown, this.#place);
    const limits = view.day.limits[this.#place.side];
    if (!window) {
      return;
    }
    if (this.#fields.length === 0) {
      const unit = limits?.limit?.unit;
      this.#fields = [
        this.#field("start", ""),
        this.#field("end", ""),
        ...(limits?.stop_level ? [this.#field("stop_level", "%")] : []),
        ...(limits?.limit && unit ? [this.#field(unit === "A" ? "current" : "power", unit)] : []),
      ];
      this.element.replaceChildren(...this.#fields.map(({ label }) => label), this.#note);
    }
    for (const field of this.#fields) {
      const { input, name } = field;
      input.readOnly = !view.mayEdit;
      input.setAttribute("aria-invalid", String(reasons !== "" || input.dataset["wrong"] === "true"));
      input.setAttribute("aria-describedby", `${reasons} ${this.#note.id}`.trim());
      const range = this.#range(name);
      if (range) {
        Object.assign(input, { min: String(range.min), max: String(range.max), step: String(range.step) });
      }
      if (!field.typing) {
        input.value = this.#written(window, name);
      }
    }
  }

  /** Whether a field holds what could not be read: it is not what would be applied. */
  get unread() {
    return this.#fields.some(({ input }) => input.dataset["wrong"] === "true");
  }

  /** Give up what could not be read. */
  giveUp() {
    for (const field of this.#fields.filter(({ input }) => input.dataset["wrong"] === "true")) {
      delete field.input.dataset["wrong"];
      field.typing = false;
      this.#note.textContent = "";
    }
  }

  /** Focus the first field. */
  focus() {
    this.#fields[0]?.input.focus();
  }

  /**
   * @param {Field["name"]} name
   * @param {string} unit
   * @returns {Field}
   */
  #field(name, unit) {
    const { texts } = /** @type {View} */ (this.#view);
    const time = name === "start" || name === "end";
    const kind = time ? { type: "text", inputmode: "text" } : { type: "number", inputmode: "decimal" };
    const input = /** @type {HTMLInputElement} */ (make("input", { ...kind, autocomplete: "off" }));
    const label = make("label", {}, make("span", {}, unit ? `${texts.t(`edit_${name}`)} (${unit})` : texts.t(`edit_${name}`)), input);
    const field = { name, input, unit, label, typing: false };
    input.addEventListener("input", () => {
      field.typing = true;
    });
    input.addEventListener("change", () => this.#take(field));
    // Typing that ends as it began is no change: the field shows its window again.
    input.addEventListener("blur", () => this.#leave(field));
    if (time) {
      input.addEventListener("keydown", (event) => this.#stepTime(field, event));
    }
    return field;
  }

  /**
   * Take what was typed. What is no time stays in the field, and is said.
   * @param {Field} field
   */
  #take(field) {
    const { name, input } = field;
    const view = /** @type {View} */ (this.#view);
    const { editing, clock, day, texts } = view;
    delete input.dataset["wrong"];
    this.#say("");
    if (name === "start" || name === "end") {
      const minute = typedMinute(input.value, clock);
      if (minute === null) {
        input.dataset["wrong"] = "true";
        this.#say(texts.t("edit_time_wrong", { example: shownMinute(90, clock) }));
        input.setAttribute("aria-invalid", "true");
        editing.select(this.#place);
        return;
      }
      field.typing = false;
      editing.change(withTime(editing.shown, this.#place, name, minute, day.limits));
      this.#sayFitted(name, (now) => ofDay(minuteOf(now[name])) === minute);
    } else {
      const value = input.valueAsNumber;
      field.typing = false;
      editing.change(withValue(editing.shown, this.#place, name, value, this.#range(name)));
      this.#sayFitted(name, (now) => Number.isNaN(value) || now[name] === value);
    }
    input.value = this.#written(/** @type {Window} */ (windowAt(editing.shown, this.#place)), name);
  }

  /** @param {Field} field */
  #leave(field) {
    const view = this.#view;
    const window = view && windowAt(view.editing.shown, this.#place);
    if (window && field.typing && field.input.dataset["wrong"] !== "true") {
      field.typing = false;
      field.input.value = this.#written(window, field.name);
    }
  }

  /**
   * Say where a value could not be taken as it was typed.
   * @param {Field["name"]} name
   * @param {(window: Window) => boolean} taken
   */
  #sayFitted(name, taken) {
    const { editing, texts } = /** @type {View} */ (this.#view);
    const now = windowAt(editing.shown, this.#place);
    if (now && !taken(now)) {
      this.#say(texts.t("edit_fitted", { value: this.#written(now, name) }));
    }
  }

  /** @param {string} text */
  #say(text) {
    this.#note.textContent = text;
    if (text) {
      this.#view?.announce(text);
    }
  }

  /**
   * @param {Field} field
   * @param {KeyboardEvent} event
   */
  #stepTime({ name }, event) {
    const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    const view = this.#view;
    const window = view && windowAt(view.editing.shown, this.#place);
    if (way && view?.mayEdit && window && (name === "start" || name === "end")) {
      event.preventDefault();
      const minute = ofDay(minuteOf(window[name]) + way * view.day.limits.step_minutes);
      view.editing.change(withTime(view.editing.shown, this.#place, name, minute, view.day.limits));
    }
  }

  /**
   * @param {Field["name"]} name
   * @returns {Range | null}
   */
  #range(name) {
    const limits = this.#view?.day.limits[this.#place.side];
    return (name === "stop_level" ? limits?.stop_level : name === "start" || name === "end" ? null : limits?.limit) ?? null;
  }

  /**
   * @param {Window} window
   * @param {Field["name"]} name
   */
  #written(window, name) {
    if (name === "start" || name === "end") {
      return shownMinute(minuteOf(window[name]), /** @type {View} */ (this.#view).clock);
    }
    return window[name] === undefined ? "" : String(window[name]);
  }
}
