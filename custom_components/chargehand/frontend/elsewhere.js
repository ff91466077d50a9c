/** A schedule that was changed elsewhere: theirs and mine side by side, and what to do about it, each with one press. */

import { button, switchOff } from "./button.js";
import { make } from "./elements.js";
import { Place } from "./place.js";
import { windowName, windowWords } from "./window-words.js";
import { SIDES, sameWindow } from "./windows.js";

/** @import {Foreign, Side, Window} from "./types.js" */
/** @import {View} from "./view.js" */

/** A row of the comparison. @typedef {{side: Side, number: number, mine: Window | null, theirs: Window | null, differs: boolean}} Row */

/**
 * Return every window that one of the two has, in order.
 * @param {Pick<Foreign, "mine" | "theirs">} foreign
 * @returns {Row[]}
 */
export function compared({ mine, theirs }) {
  return SIDES.flatMap((side) => {
    const numbers = new Set([...mine[side], ...theirs[side]].map(({ number }) => number ?? 0));
    return [...numbers]
      .sort((one, other) => one - other)
      .map((number) => {
        const [own, other] = [mine, theirs].map((one) => one[side].find((window) => window.number === number) ?? null);
        const differs = !own || !other || !sameWindow(own, other);
        return { side, number, mine: own ?? null, theirs: other ?? null, differs };
      });
  });
}

export class Elsewhere {
  #table = new Place(make("div", { class: "comparison" }));
  #title = make("h3", { id: "elsewhere" });
  #keep = button("", "", () => void this.#view?.presses.keep());
  #putBack = button("primary", "", () => void this.#view?.presses.putBack());
  #why = make("p", { class: "why", id: "put-back-why" });
  element = make(
    "section",
    { class: "elsewhere", "aria-labelledby": "elsewhere" },
    this.#title,
    this.#table.element,
    make("div", { class: "bar" }, this.#keep, this.#putBack),
    this.#why,
  );
  /** @type {View | null} */
  #view = null;

  /** @param {View} view */
  show(view) {
    this.#view = view;
    const { day, texts, clock, presses } = view;
    const { foreign } = day;
    this.element.hidden = !foreign;
    if (!foreign) {
      return;
    }
    this.#title.textContent = texts.t("edit_foreign", { time: clock.timeAndDay(Date.parse(foreign.since)) });
    this.#table.show([foreign.mine, foreign.theirs], () => [table(foreign, view)]);
    const { available, controls, permitted } = day.inverter;
    const locked = permitted ? "edit_put_back_locked" : "edit_put_back_not_permitted";
    const why = !(controls && permitted) ? locked : !available ? "edit_put_back_away" : "";
    this.#why.textContent = why && texts.t(why);
    this.#keep.textContent = texts.t(presses.busy === "keep" ? "edit_keeping" : "edit_keep");
    this.#putBack.textContent = texts.t(presses.busy === "put_back" ? "edit_putting_back" : "edit_put_back");
    switchOff(this.#keep, presses.busy !== null || !available || !permitted);
    switchOff(this.#putBack, presses.busy !== null || why !== "", this.#why.id);
  }
}

/**
 * @param {Foreign} foreign
 * @param {View} view
 */
function table(foreign, { texts, clock }) {
  const cell = (/** @type {Window | null} */ window, /** @type {boolean} */ differs) => {
    const words = window ? windowWords(window, texts, clock) : texts.t("edit_none");
    return make("td", {}, differs ? make("mark", {}, words) : words);
  };
  const rows = compared(foreign).map(({ side, number, mine, theirs, differs }) =>
    make(
      "tr",
      { class: differs ? "differs" : "" },
      make(
        "th",
        { scope: "row" },
        windowName(side, number, texts),
        ...(differs ? [make("span", { class: "badge" }, texts.t("edit_different"))] : []),
      ),
      cell(theirs, differs),
      cell(mine, differs),
    ),
  );
  const heads = ["edit_theirs_column", "edit_mine_column"].map((key) => make("th", { scope: "col" }, texts.t(key)));
  return make("table", {}, make("thead", {}, make("tr", {}, make("td"), ...heads)), make("tbody", {}, ...rows));
}
