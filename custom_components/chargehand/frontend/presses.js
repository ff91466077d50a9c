/** What the editor's buttons do: one at a time, each one call, and what came of it. */

import { keyOf, messageOf } from "./calls.js";
import { inOrder } from "./windows.js";

/** @import {Calls, Receipt} from "./calls.js" */
/** @import {Editing} from "./editing.js" */

/** @typedef {"apply" | "undo" | "plan" | "discard" | "keep" | "put_back"} Press */

/**
 * What came of the last press.
 * @typedef {{kind: "receipt", of: Press, receipt: Receipt} | {kind: "fault", of: Press, text: string, key: string}
 *   | {kind: "plan", says: "charges" | "none" | "same", why: string}} Outcome
 */

export class Presses {
  /** @type {Press | null} What is under way. */
  busy = null;
  /** @type {Outcome | null} */
  outcome = null;
  #editing;
  #changed;

  /**
   * @param {Editing} editing
   * @param {() => void} changed
   */
  constructor(editing, changed) {
    this.#editing = editing;
    this.#changed = changed;
  }

  /** Write what is shown to the inverter, as one commit. */
  async apply() {
    const editing = this.#editing;
    await this.#press("apply", async (calls) => {
      const armed = editing.armed ?? editing.day?.held?.armed ?? true;
      const shown = editing.copy.send();
      try {
        const receipt = await calls.apply(shown, armed);
        editing.copy.laid(shown);
        editing.copy.conclude();
        editing.armed = null;
        return { kind: "receipt", of: "apply", receipt };
      } catch (fault) {
        editing.copy.refused();
        throw fault;
      }
    });
    if (this.outcome?.kind === "fault" && this.outcome.key === "schedule_rejected") {
      editing.lookAgain();
    }
  }

  /** Put back the schedule that the inverter held before the last change. */
  async undo() {
    await this.#press("undo", async (calls) => {
      const receipt = await calls.restore("before_last_change");
      this.#editing.forget();
      return { kind: "receipt", of: "undo", receipt };
    });
  }

  /** Lay out the plan's windows as the draft. */
  async plan() {
    await this.#press("plan", async (calls) => {
      const { windows, why } = await calls.plan();
      this.#editing.layOut({ ...this.#editing.shown, charge: inOrder(windows) });
      const says = windows.length === 0 ? "none" : this.#editing.differs ? "charges" : "same";
      return { kind: "plan", says, why };
    });
  }

  /** Drop the draft. */
  async discard() {
    await this.#press("discard", async (calls) => {
      this.#editing.forget();
      // Also where none is known here yet: the last edit may be on its way to become one.
      await calls.discard();
      return null;
    });
  }

  /** Accept what the inverter holds, though it was changed elsewhere. */
  async keep() {
    await this.#press("keep", async (calls) => {
      await calls.keep();
      return null;
    });
  }

  /** Put the confirmed schedule back over one that was changed elsewhere. */
  async putBack() {
    await this.#press("put_back", async (calls) => {
      const receipt = await calls.restore("confirmed");
      this.#editing.forget();
      return { kind: "receipt", of: "put_back", receipt };
    });
  }

  /**
   * Say nothing more of the last press where the schedule's status has changed since and says otherwise.
   * @param {string | undefined} before
   * @param {string} now
   */
  overtake(before, now) {
    const { outcome } = this;
    const proven = outcome?.kind === "receipt" && before === "confirmed" && now !== before;
    const unproven = outcome?.kind === "fault" && outcome.key === "schedule_uncertain" && before !== now && now === "confirmed";
    if (proven || unproven) {
      this.clear();
    }
  }

  /** Say nothing more of the last press: something else is being edited. */
  clear() {
    this.outcome = null;
  }

  /**
   * @param {Press} what
   * @param {(calls: Calls) => Promise<Outcome | null>} carryOut
   */
  async #press(what, carryOut) {
    if (this.busy) {
      return;
    }
    this.busy = what;
    this.outcome = null;
    this.#changed();
    try {
      this.outcome = await carryOut(this.#editing.calls());
    } catch (fault) {
      this.outcome = { kind: "fault", of: what, text: messageOf(fault), key: keyOf(fault) };
    }
    this.busy = null;
    this.#changed();
  }
}
