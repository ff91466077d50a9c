/** What a user has to know while editing: nothing may be changed, another hand's draft, whether the windows act at all. */

import { make } from "./elements.js";
import { Place } from "./place.js";
import { askerOf } from "./window-words.js";

/** @import {View} from "./view.js" */

const OPTIONS = "/config/integrations/integration/chargehand";

export class EditNotes {
  #lock = new Place(make("p", { class: "lock" }));
  #told = new Place(make("p", { class: "told" }));
  #armed = /** @type {HTMLInputElement} */ (make("input", { type: "checkbox" }));
  #armedText = make("span");
  #armedRow = make("label", { class: "armed" }, this.#armed, this.#armedText);
  element = make("div", { class: "notes" }, this.#lock.element, this.#told.element, this.#armedRow);
  /** @type {View | null} */
  #view = null;

  constructor() {
    this.#armed.addEventListener("change", () => this.#view?.editing.arm(this.#armed.checked));
  }

  /** @param {View} view */
  show(view) {
    this.#view = view;
    const { day, texts, editing, mayEdit } = view;
    const { controls, permitted, name } = day.inverter;
    const locked = !(controls && permitted) && (day.limits.charge ?? day.limits.discharge) !== null;
    this.#lock.show(locked ? [name, permitted] : null, () =>
      permitted
        ? [texts.t("edit_locked", { name }), " ", make("a", { href: OPTIONS }, texts.t("edit_locked_link"))]
        : [texts.t("edit_not_permitted", { name })],
    );
    const told = toldText(view);
    if (this.#told.show(told || null, () => [told]) && told) {
      view.announce(told);
    }
    const held = day.held?.armed ?? null;
    // Where the windows act, as nearly always, there is nothing to choose here.
    this.#armedRow.hidden = held !== false && editing.armed === null;
    this.#armed.checked = editing.armed ?? held ?? true;
    this.#armed.disabled = !mayEdit;
    this.#armedText.textContent = texts.t("edit_armed_choice");
  }
}

/** @param {View} view */
function toldText({ editing, day, texts }) {
  const { told } = editing;
  if (!told) {
    return "";
  }
  if (told.kind === "draft_fault") {
    return texts.t("edit_draft_fault", { reason: told.text });
  }
  return texts.t(editing.copy.dragging ? "edit_theirs_dragging" : "edit_theirs", { by: askerOf(day.draft?.by ?? "") });
}
