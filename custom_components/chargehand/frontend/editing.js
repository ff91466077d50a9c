/** Editing one inverter's schedule: what is shown, what is asked of Home Assistant, and what came of it. Draws nothing. */

import { Calls, messageOf } from "./calls.js";
import { newWindow } from "./free-time.js";
import { Newest } from "./newest.js";
import { occurrences } from "./occurrences.js";
import { Rehearsing } from "./rehearsing.js";
import { inOrder, same, windowAt, without } from "./windows.js";
import { WorkingCopy } from "./working-copy.js";

/** @import {HouseClock} from "./house-clock.js" */
/** @import {Day, Hass, Reason, Selected, Side, Windows, Working} from "./types.js" */
/** @import {Place} from "./windows.js" */

/** Another hand's draft has arrived, or this one was refused. @typedef {{kind: "theirs"} | {kind: "draft_fault", text: string}} Told */

export class Editing {
  /** @type {Hass | null} */
  hass = null;
  /** @type {Day | null} */
  day = null;
  /** @type {HouseClock | null} */
  clock = null;
  /** @type {Selected} */
  selected = null;
  /** @type {Told | null} What has to be told of drafts. */
  told = null;
  /** @type {boolean | null} Whether the windows are to act, where that was changed here. */
  armed = null;
  copy = new WorkingCopy();
  #changed;
  #pointing = false;
  #rehearsing = new Rehearsing(
    () => this.calls(),
    () => this.#rehearsed(),
  );
  /** @type {Newest<Windows, unknown>} */
  #laying = new Newest(
    (windows) => this.calls().draft(windows),
    (_, windows) => {
      this.copy.laid(windows);
      this.#changed("laid");
    },
    (fault) => {
      this.copy.refused();
      this.told = { kind: "draft_fault", text: messageOf(fault) };
      this.#changed("laid");
    },
  );

  /** @param {(why: string) => void} changed Called whenever there is something else to show. */
  constructor(changed) {
    this.#changed = changed;
  }

  /**
   * Take what the subscription says now.
   * @param {Day} day
   * @param {HouseClock} clock
   */
  take(day, clock) {
    const before = this.day;
    if (before && before.inverter.device_id !== day.inverter.device_id) {
      this.forget();
      this.#rehearsing.drop();
      this.selected = this.told = null;
    }
    this.day = day;
    this.clock = clock;
    const { selected } = this;
    const index = selected ? this.shown[selected.side].findIndex(({ number }) => number === selected.number) : -1;
    const arrival = this.copy.arrive(day.draft ?? day.held ?? { charge: [], discharge: [] });
    if (arrival === "theirs" && before?.held && day.draft) {
      this.told = { kind: "theirs" };
    }
    this.armed = this.armed === day.held?.armed ? null : this.armed;
    if (selected && !windowAt(this.shown, selected)) {
      // The inverter fills its places in order, so a window may come back from the draft in another place.
      const number = arrival === "own" ? this.shown[selected.side][index]?.number : undefined;
      this.selected = number ? { side: selected.side, number } : null;
    }
    if (this.differs && before && before.expected !== day.expected) {
      this.#rehearsing.again(this.shown);
    }
    this.#show("day");
  }

  /** @returns {Windows} */
  get shown() {
    return this.copy.shown;
  }

  /** Whether what is shown differs from what the inverter holds. */
  get differs() {
    const held = this.day?.held;
    return !held || !same(held, this.shown) || this.armed !== null;
  }

  /** Why the inverter cannot hold what is shown, as far as that is known. @returns {Reason[]} */
  get reasons() {
    const found = this.#rehearsing.of(this.shown);
    return found?.reasons ?? (this.copy.working ? [] : (this.day?.draft?.reasons ?? []));
  }

  /** What is known of how the battery would go under what is shown. */
  get rehearsed() {
    const found = this.#rehearsing.of(this.shown) ?? (this.copy.dragging ? this.#rehearsing.last : null);
    return this.differs ? found : null;
  }

  /** What the picture shows in place of the day's own windows. @returns {Working | null} */
  get working() {
    const day = this.day;
    if (!day || !this.clock || (!this.differs && !this.copy.dragging)) {
      return null;
    }
    const { shown } = this;
    const found = this.#rehearsing.of(shown);
    // The picture does not wait for the answer: times by the house's clock come first, and the last course stays meanwhile.
    const acting = found?.acting ?? occurrences(shown, day.band, this.clock);
    const course = found ? (found.course ?? null) : this.#rehearsing.course;
    return { ...shown, acting, course };
  }

  /**
   * Choose a window, or none.
   * @param {Selected} selected
   */
  select(selected) {
    this.selected = selected && windowAt(this.shown, selected) ? { side: selected.side, number: selected.number } : null;
    this.#changed("selected");
  }

  begin() {
    this.copy.begin();
  }

  /**
   * Change the windows: within a drag on this screen only, else as an edit that becomes the draft.
   * @param {Windows} windows
   */
  change(windows) {
    if (this.copy.change(windows)) {
      this.#edited();
    }
  }

  end() {
    if (this.copy.end()) {
      this.#lay();
    }
    this.#show("edited");
  }

  cancel() {
    this.copy.cancel();
    this.#show("edited");
  }

  undoEdit() {
    if (this.copy.undo()) {
      this.#edited();
    }
  }

  /** @param {Side} side */
  add(side) {
    const { day, clock } = this;
    const window = day && clock && newWindow(this.shown, side, day.limits, day.prices, clock, Date.now());
    if (window) {
      const windows = { ...this.shown, [side]: [...inOrder(this.shown[side]), window] };
      this.selected = { side, number: windows[side].length };
      this.change(windows);
    }
    return window;
  }

  /** @param {Place} place */
  remove(place) {
    this.selected = null;
    this.change(without(this.shown, place));
  }

  /** @param {boolean} armed */
  arm(armed) {
    this.armed = armed === this.day?.held?.armed ? null : armed;
    this.#show("edited");
  }

  #edited() {
    if (!this.copy.dragging) {
      this.told = null;
      this.#lay();
    }
    this.#show("edited");
  }

  #rehearsed() {
    const first = this.#pointing && this.reasons.find(({ side, number }) => side && number);
    if (first && first.side && first.number) {
      this.selected = { side: first.side, number: first.number };
    }
    this.#pointing = false;
    this.#changed("rehearsed");
  }

  #lay() {
    this.#laying.ask(this.copy.send());
  }

  /** @param {string} why */
  #show(why) {
    if (this.differs) {
      this.#rehearsing.ask(this.shown);
    }
    this.#changed(why);
  }

  /**
   * Lay out windows that come from somewhere else than this screen's handles and fields.
   * @param {Windows} windows
   */
  layOut(windows) {
    if (this.copy.change(windows)) {
      this.#lay();
    }
    this.#show("edited");
  }

  /** Forget the edits that nobody has laid out; drafts on their way are not waited for. */
  forget() {
    this.#laying.drop();
    this.copy.drop();
    this.armed = null;
  }

  /** Look again why the inverter cannot hold what is shown, and open the first window that a reason is about. */
  lookAgain() {
    this.#pointing = true;
    this.#rehearsing.again(this.shown);
  }

  /** Return what asks Home Assistant. */
  calls() {
    if (!this.hass || !this.day) {
      throw new Error("There is no inverter yet");
    }
    return new Calls(this.hass, this.day.inverter.device_id);
  }
}
