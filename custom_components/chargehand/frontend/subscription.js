/** The subscription to an inverter's day, renewed whenever it was lost. */

/** @import {Connection, Course, Day, Limits, Past} from "./types.js" */

/** Seconds before each further attempt; the last one repeats. */
const PAUSES = [1, 2, 5, 10, 30];

/**
 * Seconds after which the subscription on a connection that came back is made once more. Until then, parts of the page may end
 * subscriptions by the numbers that these had on the connection before; such a number may be this subscription's by now.
 */
const SETTLED_AFTER = 5;

/**
 * @typedef {{code: string, message: string, translation_key?: string, translation_domain?: string,
 *   translation_placeholders?: Record<string, string>}} Refusal
 */

/** A map without a schedule has no limits at all; the card's parts are spared that case. @type {Limits} */
const NO_WINDOWS = { step_minutes: 1, midnight: true, charge: null, discharge: null };

/** Nothing is known of the past; the card's parts are spared that case too. @type {Past} */
const NO_PAST = { start: new Date(0).toISOString(), step_minutes: 5, level: [], solar_kw: [], load_kw: [] };

/** @typedef {Course | {why: string} | null} Expectation */

/** @typedef {Omit<Day, "limits" | "past" | "expected" | "unexpected"> & {limits: Limits | null, past: Past | null, expected: Expectation}} Sent */

/** What an event carries: of all keys, those that have changed. @typedef {Partial<Sent>} DayEvent */

/**
 * Return what is known after an event: each key that it carries replaces what was there.
 * @param {Day | null} day
 * @param {DayEvent} event
 * @returns {Day}
 */
export function merge(day, event) {
  const merged = { ...day, ...event, ...(event.expected === undefined ? {} : expectation(event.expected)) };
  return /** @type {Day} */ ({ ...merged, limits: merged.limits ?? NO_WINDOWS, past: merged.past ?? NO_PAST });
}

/**
 * Return the expected course apart from why there is none.
 * @param {Expectation} sent
 * @returns {Pick<Day, "expected" | "unexpected">}
 */
function expectation(sent) {
  return sent && "why" in sent ? { expected: null, unexpected: sent.why } : { expected: sent, unexpected: null };
}

/** Follows one inverter from `start` to `stop`. */
export class DaySubscription {
  #connection;
  #deviceId;
  #onDay;
  #onLost;
  /** @type {Day | null} */
  #day = null;
  /** @type {(() => Promise<void>) | null} */
  #unsubscribe = null;
  #attempt = 0;
  /** Tells the answers of an attempt from those of an earlier one. */
  #round = 0;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #waiting;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #settling;

  /**
   * @param {Connection} connection
   * @param {string} deviceId
   * @param {(day: Day) => void} onDay Called after each event with all that is known.
   * @param {(refusal: Refusal | null) => void} onLost Called when nothing comes any more: with the server's answer, or null
   *   where the connection is gone.
   */
  constructor(connection, deviceId, onDay, onLost) {
    this.#connection = connection;
    this.#deviceId = deviceId;
    this.#onDay = onDay;
    this.#onLost = onLost;
  }

  start() {
    this.#connection.addEventListener("ready", this.#back);
    this.#connection.addEventListener("disconnected", this.#gone);
    this.#again();
  }

  stop() {
    this.#connection.removeEventListener("ready", this.#back);
    this.#connection.removeEventListener("disconnected", this.#gone);
    this.#end();
  }

  #back = () => {
    this.#again();
    this.#settling = setTimeout(this.#again, SETTLED_AFTER * 1000);
  };

  #again = () => {
    this.#end();
    this.#attempt = 0;
    void this.#subscribe();
  };

  #gone = () => {
    this.#end(false);
    this.#onLost(null);
  };

  /** @param {boolean} [tell] Whether the server still knows of the subscription. */
  #end(tell = true) {
    this.#round += 1;
    clearTimeout(this.#waiting);
    clearTimeout(this.#settling);
    const unsubscribe = this.#unsubscribe;
    this.#unsubscribe = null;
    if (unsubscribe && tell) {
      // The server may have ended it itself, with the entry or with the connection.
      unsubscribe().catch(() => {});
    }
  }

  async #subscribe() {
    const round = this.#round;
    this.#day = null;
    const message = { type: "chargehand/day/subscribe", device_id: this.#deviceId };
    /** @param {DayEvent} event */
    const take = (event) => {
      if (round === this.#round) {
        this.#attempt = 0;
        this.#day = merge(this.#day, event);
        this.#onDay(this.#day);
      }
    };
    try {
      // Renewed here, not by the connection: after a restart the inverter is there later than the page is.
      const unsubscribe = await this.#connection.subscribeMessage(take, message, { resubscribe: false });
      if (round === this.#round) {
        this.#unsubscribe = unsubscribe;
      } else {
        unsubscribe().catch(() => {});
      }
    } catch (refusal) {
      if (round === this.#round) {
        this.#onLost(/** @type {Refusal} */ (refusal));
        const seconds = PAUSES[Math.min(this.#attempt, PAUSES.length - 1)] ?? 0;
        this.#attempt += 1;
        this.#waiting = setTimeout(() => void this.#subscribe(), seconds * 1000);
      }
    }
  }
}
