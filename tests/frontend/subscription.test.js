// The subscription on a connection that is lost and comes back, as Home Assistant's own client tells of it ("disconnected", "ready").
import assert from "node:assert/strict";
import { mock, test } from "node:test";

import { DaySubscription, merge } from "../../custom_components/chargehand/frontend/subscription.js";

/** @import {Day} from "../../custom_components/chargehand/frontend/types.js" */

/** A connection that a test answers for. */
class FakeConnection extends EventTarget {
  /** @type {{send: (event: object) => void, message: object, options: object | undefined, ended: boolean}[]} */
  subscriptions = [];
  /** @type {object | null} What the next requests are refused with. */
  refusal = null;

  /**
   * @template T
   * @param {(event: T) => void} callback
   * @param {object} message
   * @param {object} [options]
   */
  async subscribeMessage(callback, message, options) {
    if (this.refusal) {
      throw this.refusal;
    }
    const subscription = {
      send: (/** @type {object} */ event) => callback(/** @type {T} */ (event)),
      ...{ message, options, ended: false },
    };
    this.subscriptions.push(subscription);
    return async () => {
      subscription.ended = true;
    };
  }
}

/** Let everything that waits for an answer go on. */
const settled = () => new Promise((resolve) => setImmediate(resolve));

function followed() {
  const connection = new FakeConnection();
  /** @type {Day[]} */
  const days = [];
  /** @type {({code: string} | null)[]} */
  const lost = [];
  const subscription = new DaySubscription(
    connection,
    "an-id",
    (day) => days.push(day),
    (refusal) => lost.push(refusal),
  );
  subscription.start();
  return { connection, days, lost, subscription };
}

test("why nothing is expected stays known until something is", () => {
  const why = "House use is not known.";
  const without = merge(null, /** @type {object} */ ({ expected: { why } }));
  assert.deepEqual([without.expected, without.unexpected], [null, why]);
  const later = merge(without, { currency: "GBP" });
  assert.deepEqual([later.expected, later.unexpected], [null, why]);
  const course = { level: [60] };
  const known = merge(later, /** @type {object} */ ({ expected: course }));
  assert.deepEqual([known.expected, known.unexpected], [course, null]);
});

test("a key of an event replaces what was there, the others stay", () => {
  const limits = { step_minutes: 5, midnight: false, charge: null, discharge: null };
  const past = { start: "2026-11-26T13:00:00+00:00", step_minutes: 5, level: [62], solar_kw: [0], load_kw: [0.3] };
  const day = /** @type {Day} */ (/** @type {unknown} */ ({ currency: "GBP", plan: { reason: "a" }, limits, past }));
  assert.deepEqual(merge(day, { plan: null }), { currency: "GBP", plan: null, limits, past });
  assert.deepEqual(day.plan, { reason: "a" });
});

test("events add up", async () => {
  const { connection, days } = followed();
  await settled();
  const [first] = connection.subscriptions;
  assert.deepEqual(first.message, { type: "chargehand/day/subscribe", device_id: "an-id" });
  first.send({ currency: "GBP", order: null, limits: null, past: null });
  first.send({ order: { state: "waiting" } });
  const { limits, past, ...others } = days[days.length - 1];
  assert.deepEqual(others, { currency: "GBP", order: { state: "waiting" } });
  // A map without a schedule has none, and an inverter that was never read no past.
  assert.deepEqual([limits.charge, limits.discharge, past.level], [null, null, []]);
});

test("once the connection is back it is subscribed anew, and nothing old is kept", async () => {
  mock.timers.enable({ apis: ["setTimeout"] });
  const { connection, days, lost } = followed();
  await settled();
  connection.subscriptions[0].send({ currency: "GBP", order: null });
  connection.dispatchEvent(new Event("disconnected"));
  assert.deepEqual(lost, [null]);
  connection.dispatchEvent(new Event("ready"));
  await settled();
  assert.equal(connection.subscriptions.length, 2);
  connection.subscriptions[1].send({ currency: "EUR" });
  assert.equal(days.at(-1)?.currency, "EUR");
  assert.ok(!("order" in days[1]));
  connection.subscriptions[0].send({ currency: "late" });
  assert.equal(days.length, 2);
  mock.timers.reset();
  assert.equal(/** @type {{resubscribe: boolean}} */ (connection.subscriptions[0].options).resubscribe, false);
});

test("after the connection has settled it is subscribed once more: the page may have ended the first by an old number", async () => {
  mock.timers.enable({ apis: ["setTimeout"] });
  const { connection, days, subscription } = followed();
  await settled();
  connection.dispatchEvent(new Event("disconnected"));
  connection.dispatchEvent(new Event("ready"));
  await settled();
  mock.timers.tick(5000);
  await settled();
  assert.equal(connection.subscriptions.length, 3);
  assert.equal(connection.subscriptions[1].ended, true);
  connection.subscriptions[2].send({ currency: "EUR" });
  assert.deepEqual(days.at(-1)?.currency, "EUR");
  // Then it stays, and a card that is gone does not come back.
  mock.timers.tick(60_000);
  await settled();
  connection.dispatchEvent(new Event("ready"));
  await settled();
  subscription.stop();
  mock.timers.tick(60_000);
  await settled();
  assert.equal(connection.subscriptions.length, 4);
  mock.timers.reset();
});

test("an inverter that is not running yet is asked for again until it is", async () => {
  mock.timers.enable({ apis: ["setTimeout"] });
  const connection = new FakeConnection();
  connection.refusal = { code: "home_assistant_error", message: "Teasel T5 is not running." };
  /** @type {unknown[]} */
  const lost = [];
  const subscription = new DaySubscription(connection, "an-id", () => {}, (refusal) => lost.push(refusal));
  subscription.start();
  await settled();
  mock.timers.tick(1000);
  await settled();
  assert.deepEqual(lost, [connection.refusal, connection.refusal]);
  connection.refusal = null;
  mock.timers.tick(30_000);
  await settled();
  assert.equal(connection.subscriptions.length, 1);
  mock.timers.reset();
});

test("a card that is gone ends its subscription, also one whose answer was still on its way", async () => {
  const { connection, subscription, days } = followed();
  subscription.stop();
  await settled();
  assert.equal(connection.subscriptions[0].ended, true);
  connection.subscriptions[0].send({ currency: "GBP" });
  connection.dispatchEvent(new Event("ready"));
  await settled();
  assert.equal(connection.subscriptions.length, 1);
  assert.deepEqual(days, []);
});
