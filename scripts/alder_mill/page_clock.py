"""The browser's idea of time on the demo's page, where the house's time is another one."""

import json
import time
from pathlib import Path

from homeassistant.components.frontend import add_extra_js_url
from homeassistant.core import HomeAssistant

from .house_time import HouseTime

SCRIPT = """\
const RealDate = Date;
const [begun, speed] = %s;
const monotonic = () => performance.timeOrigin + performance.now();
const [opened, house] = [monotonic(), begun.house + (RealDate.now() - begun.real) * speed];
const now = () => Math.round(house + (monotonic() - opened) * speed);
globalThis.Date = class Date extends RealDate {
  constructor(...parts) {
    if (parts.length) {
      super(...parts);
    } else {
      super(now());
    }
  }
  static now() {
    return now();
  }
};
"""
"""Only now is another one; timers of the page stay in real time."""


async def tell_page(hass: HomeAssistant, house_time: HouseTime) -> None:
    """Let pages that are opened from here on take the house's time for now."""
    begun = {"real": time.time_ns() / 1e6, "house": house_time.timestamp() * 1000}
    # A name of its own for each start: browsers keep what they have once had.
    name = f"house_time_{time.time_ns()}.js"
    path = Path(hass.config.path("www", name))
    await hass.async_add_executor_job(path.write_text, SCRIPT % json.dumps([begun, house_time.speed]))
    add_extra_js_url(hass, f"/local/{name}")
