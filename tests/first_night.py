"""The way from nothing to a planned night as a user goes it: a form, a page, an automation. Each is the platform's own, and is counted."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import voluptuous as vol
from homeassistant.components.automation.const import DOMAIN as AUTOMATION
from homeassistant.components.automation.helpers import async_get_blueprints
from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import section
from homeassistant.helpers import device_registry as dr
from homeassistant.setup import async_setup_component

BLUEPRINT = "winter_night_charge"
RATE = {"start": "01:30:00", "end": "04:30:00", "night_buy": 0.12, "buy": 0.34, "sell": 0.05}
"""As the page sends it."""

BENCHES = frozenset({"port"})
"""What only the bench makes a user fill in: a gateway listens on port 502, which the form comes with."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """A form that was filled in: how many fields it shows, how many had to be filled in, and the buttons pressed to reach and to leave it."""

    name: str
    shown: int
    filled: int
    buttons: tuple[str, ...]

    @property
    def presses(self) -> int:
        """Return a press for each field and for each button."""
        return self.filled + len(self.buttons)


async def three_steps(hass: HomeAssistant, port: int) -> tuple[ConfigEntry, list[Step]]:
    """Go the way with an inverter behind this port of the loopback. Return its entry, and the steps."""
    form = await hass.config_entries.flow.async_init("chargehand", context={"source": "user"})
    gateway = {"host": "127.0.0.1", "port": port, "register_map": "teasel_t5"}
    steps = [
        _step(
            "form",
            form,
            gateway,
            "Settings",
            "Devices & services",
            "Add integration",
            "Chargehand",
            "Submit",
        )
    ]
    page = await hass.config_entries.flow.async_configure(form["flow_id"], gateway)
    answers = {"allow_control": True, "night_rate": RATE}
    steps.append(_step("found page", page, answers, "Submit", "Finish"))
    done = await hass.config_entries.flow.async_configure(page["flow_id"], answers)
    if (entry := done.get("result")) is None:
        raise RuntimeError(f"the inverter was not added: {done.get('errors') or done.get('reason')}")
    await hass.async_block_till_done()
    steps.append(await _automate(hass, entry))
    return entry, steps


async def _automate(hass: HomeAssistant, entry: ConfigEntry) -> Step:
    """Save an automation made from the blueprint that the page has put in place, with the inverter picked and nothing else."""
    (device,) = dr.async_entries_for_config_entry(dr.async_get(hass), entry.entry_id)
    path = f"chargehand/{BLUEPRINT}.yaml"
    use = {
        "id": BLUEPRINT,
        "alias": BLUEPRINT,
        "use_blueprint": {"path": path, "input": {"inverter": device.id}},
    }
    await async_setup_component(hass, "persistent_notification", {})
    if not await async_setup_component(hass, AUTOMATION, {AUTOMATION: [use]}):
        raise RuntimeError("there are no automations")
    await hass.async_block_till_done()
    blueprint = await async_get_blueprints(hass).async_get_blueprint(path)
    state = hass.states.get(f"automation.{BLUEPRINT}")
    if state is None or state.state != "on":
        raise RuntimeError("the automation cannot be used as it comes")
    way = ("Settings", "Automations & scenes", "Blueprints", "Winter night charge")
    return Step(name="automation", shown=len(blueprint.inputs), filled=1, buttons=(*way, "Save", "Save its name"))


def _step(name: str, form: Mapping[str, Any], given: Mapping[str, Any], *buttons: str) -> Step:
    fields = _fields(form["data_schema"])
    filled = [key for key, value in _flat(given).items() if key not in BENCHES and fields[key] != value]
    return Step(name=name, shown=len(fields), filled=len(filled), buttons=buttons)


def _fields(schema: vol.Schema) -> dict[str, Any]:
    """Return the fields that a form shows, those of its sections among them, and what each comes with; None: nothing."""
    found: dict[str, Any] = {}
    for key, kind in schema.schema.items():
        if isinstance(kind, section):
            found |= _fields(kind.schema)
        else:
            suggested = (key.description or {}).get("suggested_value")
            found[str(key)] = suggested if isinstance(key.default, vol.Undefined) else key.default()
    return found


def _flat(given: Mapping[str, Any]) -> dict[str, Any]:
    return {
        key: value
        for name, one in given.items()
        for key, value in (one.items() if isinstance(one, Mapping) else [(name, one)])
    }


def blueprint_in_place(hass: HomeAssistant) -> Path:
    """Return where the page has put the blueprint."""
    return Path(hass.config.path("blueprints", "automation", "chargehand", f"{BLUEPRINT}.yaml"))
