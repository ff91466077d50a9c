/** The card's frame: its heading, the notes, and the places of the picture and the editor. */

import "./day-band.js";
import "./schedule-editor.js";
import { STYLE } from "./card-style.js";
import { make } from "./elements.js";
import { gaps, planNote, statusNote, warnings } from "./notes.js";

/** @import {HouseClock} from "./house-clock.js" */
/** @import {Note} from "./notes.js" */
/** @import {Texts} from "./texts.js" */
/** @import {Day, Hass, Selected, Working} from "./types.js" */

/**
 * The picture: draws `day`, or `working` in its place while a copy is being changed.
 * @typedef {HTMLElement & {day: Day, working: Working | null, selected: Selected, texts: Texts, clock: HouseClock,
 *   editable: boolean}} BandElement
 */

/**
 * The fields, the buttons, the receipt. `band` is the picture whose handles it listens to.
 * @typedef {HTMLElement & {hass: Hass, day: Day, texts: Texts, clock: HouseClock, band: BandElement, selected: Selected,
 *   editable: boolean}} EditorElement
 */

export class CardFrame {
  /** @type {Hass | null} */
  #hass = null;
  /** @type {Map<Element, string>} What each place shows, so that it is only made anew when it is something else. */
  #shown = new Map();
  #heading = make("h2");
  #status = make("div", { class: "status" });
  #warnings = make("div", { class: "warnings" });
  #band = /** @type {BandElement} */ (make("chargehand-band"));
  #editor = /** @type {EditorElement} */ (make("chargehand-editor"));
  #plan = make("div", { class: "plan" });
  #gaps = make("div", { class: "gaps" });
  /** The one place whose changes are read out. */
  #live = make("div", { role: "status", "aria-live": "polite", class: "unseen" });
  #body = make("div", { class: "body" });
  #blank = make("div", { class: "blank" });

  /** @param {ShadowRoot} root */
  constructor(root) {
    this.#body.append(
      make("header", {}, this.#heading, this.#status),
      ...[this.#warnings, this.#band, this.#editor, this.#plan, this.#gaps],
    );
    root.append(make("style", {}, STYLE), make("ha-card", {}, this.#blank, this.#body, this.#live));
    this.#editor.band = this.#band;
    this.#editor.addEventListener("working-change", (event) => {
      const { working, selected } = /** @type {CustomEvent<{working: Working | null, selected: Selected}>} */ (event).detail;
      this.#band.working = working;
      this.#band.selected = selected;
    });
    this.#band.addEventListener("window-select", (event) => {
      const selected = /** @type {CustomEvent<Selected>} */ (event).detail;
      this.#band.selected = selected;
      this.#editor.selected = selected;
    });
    root.addEventListener("announce", (event) => {
      this.#live.textContent = /** @type {CustomEvent<{text: string}>} */ (event).detail.text;
    });
    this.#show("blank");
  }

  /** @param {Hass} hass */
  set hass(hass) {
    this.#hass = hass;
    this.#editor.hass = hass;
  }

  /**
   * Show one sentence instead of a day.
   * @param {string} text
   * @param {boolean} [busy] Whether something is still to come.
   */
  showBlank(text, busy = false) {
    this.#blank.textContent = text;
    this.#blank.setAttribute("aria-busy", String(busy));
    this.#show("blank");
  }

  /**
   * @param {Day} day
   * @param {Texts} texts
   * @param {HouseClock} clock
   * @param {string | null} lost Why what is shown may be old.
   */
  showDay(day, texts, clock, lost) {
    const plan = planNote(day, texts, clock);
    const status = statusNote(day, texts);
    this.#heading.textContent = day.inverter.name;
    this.#fill(this.#status, [status]);
    this.#fill(this.#warnings, [
      ...(lost ? [/** @type {Note} */ ({ key: "lost", icon: "mdi:connection", tone: "bad", text: lost })] : []),
      ...warnings(day, texts, clock),
    ]);
    this.#fill(this.#plan, plan ? [plan] : []);
    this.#fill(this.#gaps, gaps(day, texts));
    if (this.#shown.get(this.#live) !== status.text) {
      this.#shown.set(this.#live, status.text);
      this.#live.textContent = status.text;
    }
    const editable = day.inverter.controls && day.inverter.permitted && !lost;
    Object.assign(this.#band, { texts, clock, editable, day });
    Object.assign(this.#editor, { hass: this.#hass, texts, clock, editable, day });
    this.#editor.hidden = !day.limits.charge && !day.limits.discharge;
    this.#band.hidden = !day.inverter.mapped;
    this.#band.classList.toggle("stale", !day.inverter.available || lost !== null);
    this.#show("day");
  }

  /** @param {"blank" | "day"} what */
  #show(what) {
    this.#blank.hidden = what !== "blank";
    this.#body.hidden = what !== "day";
  }

  /**
   * @param {Element} place
   * @param {Note[]} notes
   */
  #fill(place, notes) {
    const shown = JSON.stringify(notes);
    if (this.#shown.get(place) !== shown) {
      this.#shown.set(place, shown);
      place.replaceChildren(...notes.map(drawn));
    }
  }
}

/** @param {Note} note */
function drawn({ key, icon, tone, text, lines = [] }) {
  return make(
    "div",
    { class: `note ${tone}`, "data-note": key },
    make("ha-icon", { icon, "aria-hidden": "true" }),
    make("div", {}, make("p", {}, text), ...lines.map((line) => make("p", { class: "more" }, line))),
  );
}
