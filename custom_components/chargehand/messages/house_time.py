"""Times of day as the owner's profile has them: 1:00 AM or 01:00."""

from datetime import datetime

from homeassistant.components.frontend.storage import UserStore, async_user_store
from homeassistant.core import HomeAssistant, async_get_hass, callback
from homeassistant.util import dt as dt_util
from homeassistant.util.hass_dict import HassKey

from ..core.schedule import DAY, time_text
from .hour_cycles import has_am_and_pm
from .texts import text

PROFILE: HassKey[UserStore] = HassKey("chargehand_owner_profile")

LANGUAGE = "language"
"""What the user interface keeps language and formats under."""

AM_AND_PM = {"12": True, "24": False}
"""What a profile says of its time format; all else leaves it to language and country."""


async def load_owner_profile(hass: HomeAssistant) -> None:
    """Load the owner's profile, which then stays current by itself. A house without an owner goes by its language and country."""
    owner = await hass.auth.async_get_owner()
    if owner is not None:
        hass.data[PROFILE] = await async_user_store(hass, owner.id)


@callback
def minute_text(minute: int) -> str:
    """Return a minute of the day as the house shows it; 1440 is the midnight at its end."""
    if not _am_and_pm():
        return time_text(minute)
    hour, past = divmod(minute % DAY, 60)
    return text("time_am" if hour < 12 else "time_pm", hour=hour % 12 or 12, minute=f"{past:02d}")


@callback
def time_shown(time: str) -> str:
    """Return a time of day that comes as "HH:MM" as the house shows it."""
    hour, minute = time.split(":")
    return minute_text(int(hour) * 60 + int(minute))


@callback
def moment_text(at: datetime) -> str:
    """Return the time of day of an aware moment, in the house's time zone."""
    local = dt_util.as_local(at)
    return minute_text(local.hour * 60 + local.minute)


@callback
def _am_and_pm() -> bool:
    hass = async_get_hass()
    profile = hass.data.get(PROFILE)
    kept = {} if profile is None else profile.data.get(LANGUAGE) or {}
    said = AM_AND_PM.get(kept.get("time_format", ""))
    language: str = kept.get("language") or hass.config.language
    return has_am_and_pm(language, hass.config.country) if said is None else said
