/** One window in the list: what it is in words, its fields when it is chosen, and what is wrong with it. */

import { button, switchOff } from "./button.js";
import { make } from "./elements.js";
import { Place } from "./place.js";
import { WindowFields } from "./window-fields.js";
import { windowName, windowWords } from "./window-words.js";
import { sameWindow, windowAt } from "./windows.js";

/** @import {View} from "./view.js" */
/** @import {Place as WindowPlace} from "./windows.js" */

/** @type {Record<string, string>} */
const ICONS = { charge: "mdi:battery-arrow-up", discharge: "mdi:battery-arrow-down" };

export class WindowRow {
  element;
  #place;
  #fields;
  #words = make("span", { class: "words" });
  #was = make("span", { class: "was" });
  #head;
  #remove;
  #reasons;
  /** @type {View | null} */
  #view = null;

  /**
   * @param {WindowPlace} place
   * @param {() => void} removed
   */
  constructor(place, removed) {
    const id = `${place.side}-${place.number}`;
    this.#place = place;
    this.#fields = new WindowFields(place);
    this.#head = button("head", "", () => this.#choose());
    this.#head.append(
      make("ha-icon", { icon: ICONS[place.side] ?? "", "aria-hidden": "true" }),
      make("span", { class: "lines" }, this.#words, this.#was),
      make("ha-icon", { icon: "mdi:chevron-down", class: "chevron", "aria-hidden": "true" }),
    );
    this.#fields.element.id = `fields-${id}`;
    this.#head.setAttribute("aria-controls", `fields-${id}`);
    this.#remove = button("remove", "", () => {
      this.#view?.editing.remove(this.#place);
      removed();
    });
    this.#reasons = new Place(make("ul", { class: "reasons", id: `reasons-${id}` }));
    const opened = make("div", { class: "opened" }, this.#fields.element, this.#remove);
    this.element = make("section", { class: `window ${place.side}`, role: "group" }, this.#head, this.#reasons.element, opened);
  }

  /** @param {View} view */
  show(view) {
    this.#view = view;
    const { editing, texts, clock, day } = view;
    const window = windowAt(editing.shown, this.#place);
    if (!window) {
      return;
    }
    const name = windowName(this.#place.side, this.#place.number, texts);
    const words = windowWords(window, texts, clock);
    const held = day.held && windowAt(day.held, this.#place);
    const was = !day.held ? "" : !held ? texts.t("edit_new") : texts.t("edit_was", { window: windowWords(held, texts, clock) });
    const { selected } = editing;
    const chosen = selected?.side === this.#place.side && selected.number === this.#place.number;
    const reasons = editing.reasons.filter((one) => one.side === this.#place.side && one.number === this.#place.number);
    this.element.setAttribute("aria-label", name);
    this.element.classList.toggle("chosen", chosen);
    this.element.classList.toggle("wrong", reasons.length > 0);
    this.#words.textContent = `${name}: ${words}`;
    this.#was.textContent = held && sameWindow(held, window) ? "" : was;
    this.#head.setAttribute("aria-expanded", String(chosen));
    this.#reasons.show(reasons.length > 0 ? reasons : null, () => reasons.map(({ text }) => make("li", {}, text)));
    this.#remove.textContent = texts.t("edit_remove");
    this.#remove.setAttribute("aria-label", texts.t("edit_remove_window", { window: name }));
    this.#remove.hidden = !view.allowed;
    switchOff(this.#remove, !view.mayEdit);
    if (!chosen) {
      this.#fields.giveUp();
    }
    this.#fields.show(view, reasons.length > 0 ? this.#reasons.element.id : "");
  }

  /** Whether a field holds what could not be read. */
  get unread() {
    return this.#fields.unread;
  }

  #choose() {
    const { editing } = /** @type {View} */ (this.#view);
    editing.select(this.#head.getAttribute("aria-expanded") === "true" ? null : this.#place);
  }
}
