/** What the card asks of Home Assistant: each action by its name, and the rehearsal. Each answers with data, or fails with a message. */

import { asked } from "./windows.js";

/** @import {Course, Hass, Occurrence, Reason, Windows} from "./types.js" */

/** Why something failed, as the page's connection hands it on. @typedef {{message?: string, code?: string, translation_key?: string}} Fault */

/** @typedef {{reasons: Reason[], course?: Course | null, acting?: Occurrence[]}} Rehearsal */

/** @typedef {{what: string, was: string | number | boolean | null, now: string | number | boolean | null}} Change */

/** @typedef {{what: string, requested: number, applied: number, why: string}} Adjustment */

/**
 * @typedef {object} Receipt
 * @property {"confirmed" | "unchanged"} outcome
 * @property {Change[]} changes
 * @property {number} registers_written
 * @property {boolean} saved
 * @property {number} registers_read_back
 * @property {Adjustment[]} adjusted
 * @property {number} seconds
 * @property {string} at
 */

/** @typedef {{windows: import("./types.js").Window[], why: string, target_level: number}} PlanAnswer */

const DOMAIN = "chargehand";

export class Calls {
  /** @type {Hass} */
  #hass;
  #device;

  /**
   * @param {Hass} hass
   * @param {string} device The id of the inverter's device.
   */
  constructor(hass, device) {
    this.#hass = hass;
    this.#device = device;
  }

  /**
   * @param {Windows} windows
   * @returns {Promise<Rehearsal>}
   */
  rehearse(windows) {
    return this.#hass.callWS({ type: `${DOMAIN}/rehearse`, device_id: this.#device, ...asked(windows) });
  }

  /** @param {Windows} windows */
  draft(windows) {
    return this.#act("draft_schedule", asked(windows));
  }

  discard() {
    return this.#act("discard_draft");
  }

  /**
   * Write exactly these windows to the inverter, as one commit.
   * @param {Windows} windows
   * @param {boolean} armed
   * @returns {Promise<Receipt>}
   */
  apply(windows, armed) {
    return this.#act("apply_schedule", { ...asked(windows), armed });
  }

  /**
   * Put back the schedule before the last change, or the confirmed one.
   * @param {"before_last_change" | "confirmed"} which
   * @returns {Promise<Receipt>}
   */
  restore(which) {
    return this.#act("restore_schedule", { which });
  }

  keep() {
    return this.#act("keep_schedule");
  }

  /** @returns {Promise<PlanAnswer>} */
  plan() {
    return this.#act("plan_charge");
  }

  /**
   * @template T
   * @param {string} action
   * @param {object} [data]
   * @returns {Promise<T>}
   */
  async #act(action, data = {}) {
    /** @type {{response: T}} */
    const answer = await this.#hass.callWS({
      type: "call_service",
      domain: DOMAIN,
      service: action,
      service_data: { device_id: this.#device, ...data },
      return_response: true,
    });
    return answer.response;
  }
}

/** What Home Assistant puts before the message of an action that refuses what it was asked for; it says nothing to the user. */
const PREFIX = /^Validation error: /;

/**
 * Return the words of a fault.
 * @param {unknown} fault
 */
export function messageOf(fault) {
  return (/** @type {Fault} */ (fault)?.message ?? String(fault)).replace(PREFIX, "");
}

/**
 * Return the key of a fault's text.
 * @param {unknown} fault
 */
export function keyOf(fault) {
  return /** @type {Fault} */ (fault)?.translation_key ?? "";
}
