"""Times of day as the house writes them: by the owner's profile, else by language and country."""

import pytest
from homeassistant.components.frontend.storage import async_user_store
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from pytest_homeassistant_custom_component.common import MockConfigEntry, MockUser

from custom_components.chargehand.messages import load_owner_profile, minute_text
from custom_components.chargehand.messages.hour_cycles import has_am_and_pm
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE
from tests.calls import act, record_events
from tests.changes.test_schedule_monitor import poll

TONIGHT = {"start": "00:30", "end": "12:05", "power": 3000, "stop_level": 95}

# What `Intl.DateTimeFormat(tag, {hour: "numeric"})` says of the hour cycle, in ICU 78.2 with the time data of CLDR 48.
CYCLES = [
    ("en", "US", True),
    ("en", "GB", False),
    ("en-GB", None, False),
    ("en-GB", "US", False),
    ("en", None, True),
    ("en", "IE", False),
    ("en", "CA", True),
    ("fr", "CA", False),
    ("en", "AU", True),
    ("en", "IN", True),
    ("hi", "IN", True),
    ("de", "DE", False),
    ("de", "US", False),
    ("en", "DE", False),
    ("es", "ES", False),
    ("es", "US", True),
    ("es-419", None, True),
    ("es", None, False),
    ("pt-BR", None, False),
    ("ko", "KR", True),
    ("ja", "JP", False),
    ("zh-Hans", "CN", False),
    ("zh-Hans", "SG", True),
    ("zh-Hant", "TW", True),
    ("el", "GR", True),
    ("sr-Latn", "RS", False),
    ("nb", "NO", False),
]


@pytest.mark.parametrize(("language", "country", "twelve"), CYCLES)
def test_language_and_country_say_how_the_hours_are_counted(language: str, country: str | None, twelve: bool) -> None:
    assert has_am_and_pm(language, country) is twelve


@pytest.mark.parametrize(
    ("country", "minute", "shown"),
    [
        ("GB", 0, "00:00"),
        ("GB", 1440, "24:00"),
        ("GB", 785, "13:05"),
        # Noon is 12 PM and midnight 12 AM, as CLDR's pattern "h:mm a" has them (Unicode Technical Standard 35, part 4).
        ("US", 0, "12:00 AM"),
        ("US", 1440, "12:00 AM"),
        ("US", 59, "12:59 AM"),
        ("US", 60, "1:00 AM"),
        ("US", 720, "12:00 PM"),
        ("US", 785, "1:05 PM"),
        ("US", 1439, "11:59 PM"),
    ],
)
async def test_a_minute_of_the_day_as_the_country_writes_it(
    hass: HomeAssistant, entry: MockConfigEntry, country: str, minute: int, shown: str
) -> None:
    hass.config.country = country
    assert minute_text(minute) == shown


@pytest.mark.parametrize(
    ("profile", "country", "shown"),
    [
        ({"language": "en", "time_format": "12"}, "GB", "1:00 AM"),
        ({"language": "en", "time_format": "24"}, "US", "01:00"),
        ({"language": "en", "time_format": "language"}, "US", "1:00 AM"),
        ({"language": "en-GB", "time_format": "language"}, "US", "01:00"),
        ({"language": "de", "time_format": "system"}, "US", "01:00"),
    ],
)
async def test_the_owner_s_profile_goes_first_and_is_followed_when_it_changes(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_owner_user: MockUser,
    profile: dict[str, str],
    country: str,
    shown: str,
) -> None:
    hass.config.country = country
    await load_owner_profile(hass)
    store = await async_user_store(hass, hass_owner_user.id)
    await store.async_set_item("language", profile)
    assert minute_text(60) == shown


async def test_a_house_with_am_and_pm_has_them_in_all_its_messages(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hass.config.country = "US"
    messages = record_events(hass, "chargehand_schedule", "message")
    await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    assert messages[-1].startswith(
        "has a new schedule: charge window 1 now 12:30 AM–12:05 PM at 3000 W to 95 % (was 10:40 PM–2:20 AM at 2000 W to 100 %)"
    )
    await bench.set(CHARGE[0].start, [100])
    await poll(hass, entry)
    assert "now 1:00 AM–12:05 PM" in messages[-1]
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, entry, "apply_schedule", charge=[TONIGHT, {**TONIGHT, "start": "00:00", "end": "13:00"}])
    assert "charge window 1 (12:30 AM–12:05 PM) and charge window 2 (12:00 AM–1:00 PM) overlap" in str(refused.value)
    with pytest.raises(ServiceValidationError, match="charge window 1 starts and ends at 2:00 PM"):
        await act(hass, entry, "apply_schedule", charge=[{**TONIGHT, "start": "14:00", "end": "14:00"}])


async def test_data_stays_as_machines_read_it(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    hass.config.country = "US"
    receipt = await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    assert {"what": "charge_window_1_start", "was": "22:40", "now": "00:30"} in receipt["changes"]
    (window,) = (await act(hass, entry, "get_schedule"))["charge"]
    assert (window["start"], window["end"]) == ("00:30", "12:05")
