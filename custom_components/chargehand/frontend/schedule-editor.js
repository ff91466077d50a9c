/** The element `chargehand-editor`: the fields, buttons, reasons and receipt with which a schedule is changed in the card. */

import { CommitProgress } from "./commit-progress.js";
import { Dragging } from "./dragging.js";
import { EditButtons } from "./edit-buttons.js";
import { EditNotes } from "./edit-notes.js";
import { Editing } from "./editing.js";
import { EDITOR_STYLE } from "./editor-style.js";
import { define, make } from "./elements.js";
import { Elsewhere } from "./elsewhere.js";
import { HandleKeys } from "./handle-keys.js";
import { Headline } from "./headline.js";
import { Presses } from "./presses.js";
import { OutcomeView } from "./receipt.js";
import { WindowList } from "./window-list.js";

/** @import {Band} from "./dragging.js" */
/** @import {HouseClock} from "./house-clock.js" */
/** @import {Texts} from "./texts.js" */
/** @import {Day, Hass, Selected} from "./types.js" */

export class ScheduleEditor extends HTMLElement {
  /** @type {Texts | null} */
  texts = null;
  /** @type {HouseClock | null} */
  clock = null;
  #editable = false;
  /** @type {Band | null} */
  #band = null;
  /** @type {{stop: () => void}[]} What moves windows by the band. */
  #hands = [];
  #editing = new Editing((why) => this.#changed(why));
  #presses = new Presses(this.#editing, () => this.#changed("pressed"));
  #list = new WindowList(() => this.#buttons.focus());
  #buttons = new EditButtons(() => this.#list.unread);
  #parts = [
    new Elsewhere(),
    new Headline(),
    new EditNotes(),
    this.#list,
    this.#buttons,
    new CommitProgress(),
    new OutcomeView(),
  ];
  #drawing = false;

  constructor() {
    super();
    const root = this.attachShadow({ mode: "open" });
    const parts = this.#parts.map(({ element }) => element);
    root.append(make("style", {}, EDITOR_STYLE), make("div", { class: "editor" }, ...parts));
    root.addEventListener("keydown", (event) => this.#undoKey(/** @type {KeyboardEvent} */ (event)));
  }

  /** @param {Hass} hass */
  set hass(hass) {
    this.#editing.hass = hass;
  }

  /** Whether windows may be changed here; set before `day`. */
  set editable(/** @type {boolean} */ editable) {
    this.#editable = editable;
  }

  /** @param {Day} day */
  set day(day) {
    if (this.clock) {
      this.#presses.overtake(this.#editing.day?.status.state, day.status.state);
      this.#editing.take(day, this.clock);
    }
  }

  /** @param {Selected} selected */
  set selected(selected) {
    const now = this.#editing.selected;
    if (selected?.side !== now?.side || selected?.number !== now?.number) {
      this.#editing.select(selected);
    }
  }

  /** The picture whose handles move windows. */
  set band(/** @type {Band | null} */ band) {
    this.#band = band;
    this.#takeHold();
  }

  connectedCallback() {
    this.#takeHold();
  }

  disconnectedCallback() {
    this.#letGo();
  }

  #takeHold() {
    this.#letGo();
    if (this.#band && this.isConnected) {
      const mayEdit = () => this.#mayEdit();
      this.#hands = [
        new Dragging(this.#band, this.#editing, mayEdit),
        new HandleKeys(this.#band, this.#editing, mayEdit, () => this.#buttons.focus()),
      ];
    }
  }

  #letGo() {
    for (const hand of this.#hands) {
      hand.stop();
    }
    this.#hands = [];
  }

  #allowed() {
    const { day } = this.#editing;
    return this.#editable && day?.inverter.controls === true && day.inverter.permitted && day.held !== null;
  }

  /** While a change is on its way, what is shown is what was sent. */
  #mayEdit() {
    return this.#allowed() && this.#presses.busy !== "apply";
  }

  /** @param {string} why */
  #changed(why) {
    if (why === "edited" && this.#presses.outcome?.kind !== "plan") {
      this.#presses.clear();
    }
    this.dispatchEvent(
      new CustomEvent("working-change", {
        detail: {
          working: this.#editing.working,
          selected: this.#editing.selected,
          dragging: this.#editing.copy.dragging,
        },
      }),
    );
    if (!this.#drawing) {
      this.#drawing = true;
      queueMicrotask(() => {
        this.#drawing = false;
        this.#draw();
      });
    }
  }

  #draw() {
    const { day } = this.#editing;
    if (!day || !this.texts || !this.clock) {
      return;
    }
    const view = {
      editing: this.#editing,
      presses: this.#presses,
      day,
      texts: this.texts,
      clock: this.clock,
      allowed: this.#allowed(),
      mayEdit: this.#mayEdit(),
      announce: (/** @type {string} */ text) => this.#announce(text),
    };
    for (const part of this.#parts) {
      part.show(view);
    }
  }

  /** @param {string} text */
  #announce(text) {
    this.dispatchEvent(new CustomEvent("announce", { detail: { text }, bubbles: true, composed: true }));
  }

  /** @param {KeyboardEvent} event */
  #undoKey(event) {
    const typing = event.composedPath()[0] instanceof HTMLInputElement;
    if (event.key === "z" && (event.ctrlKey || event.metaKey) && !event.shiftKey && !typing && this.#mayEdit()) {
      event.preventDefault();
      this.#editing.undoEdit();
    }
  }
}

define("chargehand-editor", ScheduleEditor);
