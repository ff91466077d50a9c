/** The editor's buttons, and why some of them can do nothing now. */

import { button, switchOff } from "./button.js";
import { make } from "./elements.js";
import { hasPlace } from "./free-time.js";
import { Place } from "./place.js";

/** @import {Side} from "./types.js" */
/** @import {View} from "./view.js" */

export class EditButtons {
  #apply = button("primary", "", () => void this.#view?.presses.apply());
  #discard = button("", "", () => void this.#view?.presses.discard());
  #undoEdit = button("", "", () => this.#view?.editing.undoEdit());
  #plan = button("", "", () => void this.#view?.presses.plan());
  #add = {
    charge: button("", "", () => this.#addOf("charge")),
    discharge: button("", "", () => this.#addOf("discharge")),
  };
  #undo = button("", "", () => void this.#view?.presses.undo());
  #why = new Place(make("p", { class: "why", id: "apply-why" }));
  #undoSays = make("p", { class: "why", id: "undo-says" });
  #change = make("div", { class: "bar" }, this.#apply, this.#discard, this.#undoEdit, this.#undo);
  #more = make("div", { class: "bar more" }, this.#plan, this.#add.charge, this.#add.discharge);
  #bars = make("div", { class: "bars" }, this.#change, this.#more);
  element = make("div", { class: "buttons" }, this.#bars, this.#why.element, this.#undoSays);
  /** @type {View | null} */
  #view = null;
  #unread;

  /** @param {() => boolean} unread Whether a field holds what could not be read. */
  constructor(unread) {
    this.#unread = unread;
  }

  /** @param {View} view */
  show(view) {
    this.#view = view;
    const { editing, presses, day, texts, allowed } = view;
    const { busy } = presses;
    const { available } = day.inverter;
    const changes = editing.differs && day.held !== null;
    const why = !available ? "edit_apply_away" : this.#unread() ? "edit_apply_unread" : "";
    this.#change.hidden = !allowed;
    this.#apply.textContent = texts.t(busy === "apply" ? "edit_applying" : "edit_apply");
    this.#apply.setAttribute("aria-busy", String(busy === "apply"));
    switchOff(this.#apply, !changes || why !== "" || busy !== null || editing.copy.dragging, why && "apply-why");
    this.#why.show(allowed && changes && why ? why : null, () => [texts.t(why)]);
    this.#discard.textContent = texts.t("edit_discard");
    this.#discard.hidden = !day.draft && !editing.copy.working && editing.armed === null;
    switchOff(this.#discard, busy !== null);
    this.#undoEdit.textContent = texts.t("edit_undo_edit");
    this.#undoEdit.hidden = !editing.copy.canUndo;
    switchOff(this.#undoEdit, busy !== null);
    this.#more.hidden = !allowed;
    this.#plan.textContent = texts.t(busy === "plan" ? "edit_planning" : "edit_plan");
    this.#plan.hidden = !day.limits.charge;
    switchOff(this.#plan, busy !== null);
    for (const side of /** @type {Side[]} */ (["charge", "discharge"])) {
      this.#add[side].textContent = texts.t(`edit_add_${side}`);
      this.#add[side].hidden = !day.limits[side] || !hasPlace(editing.shown, side, day.limits);
      switchOff(this.#add[side], busy === "apply");
    }
    this.#undo.hidden = this.#undoSays.hidden = !allowed || !day.undo.possible;
    this.#undo.textContent = texts.t(busy === "undo" ? "edit_undoing" : "edit_undo");
    this.#undoSays.textContent = day.undo.text ? texts.t("edit_undo_says", { schedule: day.undo.text }) : "";
    switchOff(this.#undo, busy !== null || !available, "undo-says");
    this.#undo.setAttribute("aria-describedby", "undo-says");
  }

  /** Focus the button that takes an edit back, or the one for a new window. */
  focus() {
    const first = [this.#undoEdit, this.#apply].find((one) => !one.hidden);
    first?.focus();
  }

  /** @param {Side} side */
  #addOf(side) {
    const view = /** @type {View} */ (this.#view);
    if (!view.editing.add(side)) {
      view.announce(view.texts.t("edit_no_time"));
    }
  }
}
