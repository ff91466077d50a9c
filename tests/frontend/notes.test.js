// What the card says in words, for days that lack something.
import assert from "node:assert/strict";
import { test } from "node:test";

import { inverterOf } from "../../custom_components/chargehand/frontend/inverters.js";
import { gaps, planNote, statusNote, warnings } from "../../custom_components/chargehand/frontend/notes.js";

/** @import {Day, Hass} from "../../custom_components/chargehand/frontend/types.js" */
/** @import {HouseClock} from "../../custom_components/chargehand/frontend/house-clock.js" */
/** @import {Texts} from "../../custom_components/chargehand/frontend/texts.js" */

const texts = /** @type {Texts} */ (
  /** @type {unknown} */ ({
    t: (/** @type {string} */ key, /** @type {object} */ values = {}) => [key, ...Object.values(values)].join(" "),
    number: String,
    money: (/** @type {number} */ amount, /** @type {string} */ currency) => `${amount} ${currency}`,
  })
);
const clock = /** @type {HouseClock} */ (
  /** @type {unknown} */ ({ timeAndDay: (/** @type {number} */ at) => new Date(at).toISOString().slice(11, 16) })
);
const SIDE = { count: 3, stop_level: null, limit: null };
const NO_SIDE = { charge: null, discharge: null };

/**
 * A day that lacks nothing, but for what a test changes.
 * @param {object} [changes]
 */
function day(changes) {
  const whole = {
    inverter: { available: true, last_read: "2026-11-26T20:53:00+00:00", why: null, mapped: true, controls: true, permitted: true },
    limits: { charge: SIDE, discharge: null },
    held: { charge: [], discharge: [], armed: true },
    prices: [{}],
    past: { level: [null, 62, null] },
    expected: {},
    status: { state: "confirmed", text: "Confirmed at 21:04." },
    ...{ order: null, plan: null, currency: "GBP" },
  };
  return /** @type {Day} */ (/** @type {unknown} */ ({ ...whole, ...changes }));
}

/** @param {Day} one */
const keys = (one) => gaps(one, texts).map(({ key }) => key);

test("a day that lacks nothing has no notes beside its status", () => {
  assert.deepEqual(gaps(day(), texts), []);
  assert.deepEqual(warnings(day(), texts, clock), []);
  assert.equal(planNote(day(), texts, clock), null);
  assert.equal(statusNote(day(), texts).tone, "good");
});

test("a window that cannot be read is warned of by its name", () => {
  const held = { charge: [], discharge: [], armed: true, not_readable: [{ side: "charge", number: 2 }] };
  const [note] = warnings(day({ held }), texts, clock);
  assert.equal(note?.tone, "warning");
  assert.equal(note?.text, "windows_not_readable edit_charge_window 2");
});

test("what somebody else has made of a slot is warned of in the words that come with the day", () => {
  const held = { charge: [], discharge: [], armed: true, set_elsewhere: ["charge window 2: used for holding 17:00–20:00"] };
  const [note] = warnings(day({ held }), texts, clock);
  assert.equal(note?.key, "windows_set_elsewhere");
  assert.equal(note?.text, "windows_set_elsewhere charge window 2: used for holding 17:00–20:00");
});

test("of an inverter without a map, only that is told, and what to do", () => {
  const inverter = { name: "Cellar", available: true, mapped: false };
  const one = day({ inverter, limits: NO_SIDE, held: null, prices: [], expected: null });
  assert.deepEqual(keys(one), []);
  assert.deepEqual(statusNote(one, texts).key, "no_map");
});

test("each gap is told by itself", () => {
  assert.deepEqual(keys(day({ limits: NO_SIDE, held: null })), ["no_windows"]);
  assert.deepEqual(keys(day({ held: null })), ["windows_unread"]);
  assert.deepEqual(keys(day({ prices: [] })), ["no_prices"]);
  assert.deepEqual(keys(day({ past: { level: [null, null] } })), ["no_history"]);
  assert.deepEqual(keys(day({ expected: null })), ["no_expectation"]);
  const why = "House use is not known.";
  assert.deepEqual(gaps(day({ expected: null, unexpected: why }), texts).map(({ text }) => text), [why]);
});

test("an inverter that does not answer is told of, with why and what was last known, and no gap is blamed on its map", () => {
  const away = { available: false, last_read: "2026-11-26T20:53:00+00:00", why: "No answer.", mapped: true, controls: true, permitted: true };
  const one = day({ inverter: away, limits: NO_SIDE, held: null });
  const [note] = warnings(one, texts, clock);
  assert.equal(note.text, "away_since 20:53");
  assert.deepEqual(note.lines, ["No answer.", "last_known_level 62"]);
  assert.deepEqual(keys(one), []);
  const never = day({ inverter: { ...away, last_read: null, why: null }, past: { level: [] } });
  assert.deepEqual({ ...warnings(never, texts, clock)[0] }, { ...note, text: "away", lines: [] });
});

test("an order is told of while it waits and when it failed, not once it is done", () => {
  const told = (/** @type {string} */ state) =>
    warnings(day({ order: { state, text: "Until 00:20.", until: null } }), texts, clock).map(({ text }) => text);
  assert.deepEqual(told("waiting"), ["Until 00:20."]);
  assert.deepEqual(told("failed"), ["Until 00:20."]);
  assert.deepEqual(told("done"), []);
});

test("a plan says what it costs only where that is known", () => {
  const plan = { made: "2026-11-26T20:24:00+00:00", reason: "Cheap.", cost: 1.5, saving: 0.7, charges: true };
  assert.deepEqual(planNote(day({ plan }), texts, clock)?.lines, ["plan_cost_and_saving 1.5 GBP 0.7 GBP", "plan_made 20:24"]);
  assert.deepEqual(planNote(day({ plan: { ...plan, saving: null } }), texts, clock)?.lines?.[0], "plan_cost 1.5 GBP 0 GBP");
  assert.deepEqual(planNote(day({ plan: { ...plan, cost: null } }), texts, clock)?.lines, ["plan_made 20:24"]);
});

test("the card is for the only inverter, or says what to choose", () => {
  /** @param {...string} ids */
  const page = (...ids) =>
    /** @type {Hass} */ (
      /** @type {unknown} */ ({
        language: "en",
        devices: Object.fromEntries([
          ["lamp", { id: "lamp", name: "Lamp", identifiers: [["other", "1"]] }],
          ...ids.map((id) => [id, { id, name: id, name_by_user: null, identifiers: [["chargehand", id]] }]),
        ]),
      })
    );
  const found = (/** @type {Hass} */ hass, /** @type {string} */ id = "") => {
    const answer = inverterOf(hass, id || undefined);
    return "device" in answer ? answer.device.id : answer.missing;
  };
  assert.equal(found(page()), "no_inverter");
  assert.equal(found(page("a")), "a");
  assert.equal(found(page("a", "b")), "choose_inverter");
  assert.equal(found(page("a", "b"), "b"), "b");
  assert.equal(found(page("a"), "b"), "device_removed");
  assert.equal(found(page("a"), "lamp"), "device_removed");
});
