// What the buttons ask of Home Assistant.
import assert from "node:assert/strict";
import { test } from "node:test";

import { Editing } from "../../custom_components/chargehand/frontend/editing.js";
import { Presses } from "../../custom_components/chargehand/frontend/presses.js";

/** @import {Day, Hass} from "../../custom_components/chargehand/frontend/types.js" */

test("discarding reaches a draft that is still on its way", async () => {
  /** @type {(string | undefined)[]} */
  const asked = [];
  const editing = new Editing(() => {});
  editing.hass = /** @type {Hass} */ (
    /** @type {unknown} */ ({
      callWS: (/** @type {{service?: string}} */ { service }) => {
        asked.push(service);
        // The draft is not answered yet when Discard is pressed.
        return service === "discard_draft" ? Promise.resolve({ response: {} }) : new Promise(() => {});
      },
    })
  );
  const held = { charge: [{ number: 1, start: "01:00", end: "05:00" }], discharge: [], armed: null };
  editing.day = /** @type {Day} */ (/** @type {unknown} */ ({ inverter: { device_id: "an-id" }, held, draft: null }));
  editing.copy.arrive(held);
  editing.change({ charge: [{ number: 1, start: "01:00", end: "06:00" }], discharge: [] });
  await new Presses(editing, () => {}).discard();
  assert.deepEqual(
    asked.filter((service) => service),
    ["draft_schedule", "discard_draft"],
  );
});
