/** The windows one below the other, with those that the draft takes away. */

import { make } from "./elements.js";
import { Place } from "./place.js";
import { WindowRow } from "./window-row.js";
import { windowName, windowWords } from "./window-words.js";
import { SIDES } from "./windows.js";

/** @import {View} from "./view.js" */

export class WindowList {
  #rows = make("div", { class: "rows" });
  #gone = new Place(make("p", { class: "gone" }));
  #general = new Place(make("ul", { class: "reasons" }));
  element = make("div", { class: "windows" }, this.#rows, this.#gone.element, this.#general.element);
  /** @type {Map<string, WindowRow>} */
  #shown = new Map();
  #removed;

  /** @param {() => void} removed Called after a window was removed: its row, and the focus in it, are gone. */
  constructor(removed) {
    this.#removed = removed;
  }

  /** Whether a field holds what could not be read. */
  get unread() {
    return [...this.#shown.values()].some(({ unread }) => unread);
  }

  /** @param {View} view */
  show(view) {
    const { editing, day, texts, clock } = view;
    const places = SIDES.flatMap((side) => editing.shown[side].map(({ number }) => ({ side, number: number ?? 0 })));
    const keys = places.map(({ side, number }) => `${side}-${number}`);
    const before = [...this.#shown.keys()];
    for (const key of before.filter((one) => !keys.includes(one))) {
      this.#shown.delete(key);
    }
    for (const [index, place] of places.entries()) {
      const key = /** @type {string} */ (keys[index]);
      const row = this.#shown.get(key) ?? new WindowRow(place, this.#removed);
      this.#shown.set(key, row);
      row.show(view);
    }
    if (before.join() !== keys.join()) {
      const rows = keys.map((key) => /** @type {WindowRow} */ (this.#shown.get(key)).element);
      // Rows that stay are not moved: a field in them keeps the focus.
      for (const row of [...this.#rows.children].filter((one) => !rows.includes(/** @type {HTMLElement} */ (one)))) {
        row.remove();
      }
      for (const [index, row] of rows.entries()) {
        if (this.#rows.children[index] !== row) {
          this.#rows.insertBefore(row, this.#rows.children[index] ?? null);
        }
      }
    }
    const gone = SIDES.flatMap((side) =>
      (day.held?.[side] ?? [])
        .filter(({ number }) => !keys.includes(`${side}-${number}`))
        .map((window) => `${windowName(side, window.number ?? 0, texts)}: ${windowWords(window, texts, clock)}`),
    );
    this.#gone.show(gone.length > 0 ? gone : null, () => [texts.t("edit_removed", { windows: gone.join("; ") })]);
    const general = editing.reasons.filter(({ side, number }) => !keys.includes(`${side}-${number}`));
    this.#general.show(general.length > 0 ? general : null, () => general.map(({ text }) => make("li", {}, text)));
  }
}
