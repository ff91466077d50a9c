"""A real Home Assistant in this process, with the user demo."""

import sys
from importlib.util import find_spec
from pathlib import Path
from types import ModuleType

from homeassistant import bootstrap, runner
from homeassistant.components.frontend.storage import async_system_store
from homeassistant.core import Context, HomeAssistant

from .faults import DemoFailed
from .paths import HOUSE
from .voice import VOICE


def leave_voice_out() -> None:
    """Stand empty modules in for the voice libraries, unless they are there: the demo neither speaks nor needs a compiler."""
    for name, taken in VOICE.items():
        if find_spec(name) is None:
            module = ModuleType(name)
            setattr(module, taken, object)
            sys.modules[name] = module


async def start_home_assistant(config: Path) -> HomeAssistant:
    """Return a real Home Assistant on this configuration, with the user demo."""
    log = (HOUSE / "home-assistant.log").open("w")
    # Home Assistant logs to where errors go; the demo's own words shall stand alone on the screen.
    sys.stderr = log
    leave_voice_out()
    hass = await bootstrap.async_setup_hass(runner.RuntimeConfig(config_dir=str(config), skip_pip=True))
    if hass is None or hass.config.recovery_mode:
        raise DemoFailed(f"Home Assistant did not start; see {log.name}")
    provider = hass.auth.get_auth_provider("homeassistant", None)
    assert provider is not None
    await provider.async_initialize()
    await hass.async_add_executor_job(provider.data.add_auth, "demo", "demo")
    await provider.data.async_save()
    credentials = await provider.async_get_or_create_credentials({"username": "demo"})
    user = await hass.auth.async_create_user("demo", group_ids=["system-admin"])
    await hass.auth.async_link_user(user, credentials)
    await (await async_system_store(hass)).async_set_item("core", {"default_panel": "alder-mill"})
    await hass.async_start()
    return hass


async def as_demo(hass: HomeAssistant) -> Context:
    """Return what shows that the user demo has asked."""
    return Context(user_id=next(user.id for user in await hass.auth.async_get_users() if user.name == "demo"))
