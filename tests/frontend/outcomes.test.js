/** What is said of a press, and when it is no longer true. */

import assert from "node:assert/strict";
import { test } from "node:test";

import { Editing } from "../../custom_components/chargehand/frontend/editing.js";
import { Presses } from "../../custom_components/chargehand/frontend/presses.js";

/** @import {Outcome} from "../../custom_components/chargehand/frontend/presses.js" */

const RECEIPT = { changes: [], registers_written: 1, saved: false, registers_read_back: 38, adjusted: [], seconds: 1, at: "2026-11-26T20:00:00Z" };

/** @type {Outcome} */
const PROVEN = { kind: "receipt", of: "apply", receipt: { outcome: "confirmed", ...RECEIPT } };
/** @type {Outcome} */
const UNCERTAIN = { kind: "fault", of: "apply", text: "Not proven", key: "schedule_uncertain" };

/**
 * @param {Outcome} outcome
 * @param {string} before
 * @param {string} now
 */
function after(outcome, before, now) {
  const presses = new Presses(new Editing(() => {}), () => {});
  presses.outcome = outcome;
  presses.overtake(before, now);
  return presses.outcome;
}

test("a receipt is not shown any more once another hand has changed the schedule", () => {
  assert.equal(after(PROVEN, "confirmed", "changed_elsewhere"), null);
  assert.equal(after(PROVEN, "confirmed", "confirmed"), PROVEN);
  // The receipt may come before the status that goes with it.
  assert.equal(after(PROVEN, "unconfirmed", "confirmed"), PROVEN);
});

test("that nothing could be proven is not said any more once it is", () => {
  assert.equal(after(UNCERTAIN, "unconfirmed", "confirmed"), null);
  assert.equal(after(UNCERTAIN, "confirmed", "unconfirmed"), UNCERTAIN);
});
