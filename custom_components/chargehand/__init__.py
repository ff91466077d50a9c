"""Chargehand: runs a home battery over the house's own RS-485-to-Ethernet gateway."""

import logging
from contextlib import ExitStack
from datetime import datetime
from functools import partial

from homeassistant.const import EVENT_CORE_CONFIG_UPDATE, EVENT_HOMEASSISTANT_STOP
from homeassistant.core import Event, HomeAssistant, callback
from homeassistant.exceptions import ConfigEntryError, ConfigEntryNotReady
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.event import async_track_time_change
from homeassistant.helpers.typing import ConfigType
from homeassistant.util import dt as dt_util

from .actions import async_setup_actions, follow_drafts, follow_orders
from .changes import ScheduleStatus
from .connection import (
    build_inverter,
    close_line,
    complete_map,
    device_identifier,
    look_for_users,
    map_of,
    open_line,
    serial_of,
)
from .const import DOMAIN, PLATFORMS
from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .core.inverter import FOLLOWED, Inverter, Subscription, level_of
from .core.modbus import LineError
from .core.registers import NO_MAP, MapInvalid, RegisterMap, Value
from .day import async_setup_day
from .frontend import async_setup_frontend
from .messages import (
    KINDS,
    MAP_INVALID,
    NO_MAP_TRIGGER,
    OF_LINE,
    bullets,
    clear_issue,
    line_fault,
    load_owner_profile,
    map_doubts,
    map_mistakes,
    raise_issue,
)
from .nights import follow_nights, follow_windows
from .store import EntryStore

_LOGGER = logging.getLogger(__name__)

NOT_KNOWN = "–"

SETTLES_AT_MINUTE = 20
"""The recorder has made the statistics of the hour before by then."""

CONFIG_SCHEMA = cv.config_entry_only_config_schema(DOMAIN)


async def async_setup(hass: HomeAssistant, config: ConfigType) -> bool:
    """Offer the actions and the card; they exist as soon as Chargehand does, with or without an inverter."""
    async_setup_actions(hass)
    async_setup_day(hass)
    await async_setup_frontend(hass)
    return True


async def async_setup_entry(hass: HomeAssistant, entry: ChargehandConfigEntry) -> bool:
    """Connect to an inverter, make sure it is the one, and start polling."""
    try:
        register_map = await hass.async_add_executor_job(map_of, hass, entry.data)
    except MapInvalid as fault:
        raise _map_invalid(hass, entry, fault) from fault
    clear_issue(hass, entry.entry_id, MAP_INVALID)
    if register_map.id != NO_MAP:
        clear_issue(hass, entry.entry_id, NO_MAP_TRIGGER)
    line = open_line(hass, entry.data, register_map)
    leaving = ExitStack()
    leaving.callback(close_line, hass, line)
    entry.async_on_unload(leaving.close)
    look_for_users(hass, entry.entry_id, line.gateway)
    try:
        inverter = build_inverter(await complete_map(register_map, line), line)
        identity = await inverter.reader.identify()
    except MapInvalid as fault:
        raise _map_invalid(hass, entry, fault) from fault
    except LineError as fault:
        key, values = line_fault(line, fault)
        raise ConfigEntryNotReady(
            translation_domain=DOMAIN, translation_key=key, translation_placeholders=dict(values)
        ) from fault
    _recognize(hass, entry, serial_of(identity), fits=inverter.reader.fits(identity))
    await load_owner_profile(hass)
    store = EntryStore(hass, entry.entry_id)
    await store.load()
    coordinator = ChargehandCoordinator(hass, entry, inverter, store)
    await coordinator.async_config_entry_first_refresh()
    entry.runtime_data = coordinator

    async def stop(_event: Event) -> None:
        # The platform waits for this, and neither for a change that is at work nor for anything on its way to the disk.
        await _end(coordinator)
        leaving.close()

    entry.async_on_unload(hass.bus.async_listen(EVENT_HOMEASSISTANT_STOP, stop))
    entry.async_on_unload(hass.bus.async_listen(EVENT_CORE_CONFIG_UPDATE, partial(_take_zone, inverter)))
    if _charges(coordinator):
        _follow(hass, entry)
    _register_device(hass, entry, inverter.map, identity)
    for doubt in map_doubts(inverter.map):
        _LOGGER.warning("The register map of %s can be used, but %s", entry.title, doubt)
    await hass.config_entries.async_forward_entry_setups(entry, PLATFORMS)
    coordinator.entities_added()
    if inverter.map.schedule is not None:
        follow_orders(hass, entry)
        await follow_drafts(hass, entry)
    _forget_vanished(hass, entry)
    await coordinator.data_logger.open()
    return True


async def async_unload_entry(hass: HomeAssistant, entry: ChargehandConfigEntry) -> bool:
    """Stop polling and leave the gateway, once a change that is at work has ended; leave what is known on disk."""
    if not await hass.config_entries.async_unload_platforms(entry, PLATFORMS):
        return False
    await _end(entry.runtime_data)
    for kind in OF_LINE:
        clear_issue(hass, entry.entry_id, kind)
    return True


async def async_remove_entry(hass: HomeAssistant, entry: ChargehandConfigEntry) -> None:
    """Leave nothing behind: the entry's file, and what stands under Repairs."""
    await EntryStore(hass, entry.entry_id).remove()
    for kind in KINDS:
        clear_issue(hass, entry.entry_id, kind)


@callback
def _recognize(hass: HomeAssistant, entry: ChargehandConfigEntry, serial: str | None, *, fits: bool) -> None:
    """Make sure that an entry's own inverter answers; one that was known by its entry alone is known by its serial number from now on.

    Raises ConfigEntryError.
    """
    known = entry.unique_id
    if not fits or (known is not None and serial is not None and serial != known):
        raise _refused("other_inverter", expected=known or entry.title, found=serial or NOT_KNOWN)
    if known is not None or serial is None:
        return
    other = hass.config_entries.async_entry_for_domain_unique_id(DOMAIN, serial)
    if other is not None:
        raise _refused("same_inverter", serial=serial, inverter=other.title)
    hass.config_entries.async_update_entry(entry, unique_id=serial)


def _refused(key: str, **values: str) -> ConfigEntryError:
    return ConfigEntryError(translation_domain=DOMAIN, translation_key=key, translation_placeholders=values)


async def _end(coordinator: ChargehandCoordinator) -> None:
    """Poll no more, let a change that is at work come to its end, and keep what is known."""
    await coordinator.data_logger.close()
    await coordinator.async_shutdown()
    await coordinator.orders.close()
    await coordinator.drafts.close()
    await coordinator.commits.close()
    await coordinator.store.close()


@callback
def _take_zone(inverter: Inverter, _event: Event) -> None:
    """Take the house's time zone, which may be another one now."""
    inverter.reader.zone = dt_util.get_default_time_zone()


def _charges(coordinator: ChargehandCoordinator) -> bool:
    """Whether there are charge windows to follow and plan for."""
    schedule = coordinator.inverter.map.schedule
    return schedule is not None and bool(schedule.charge)


def _follow(hass: HomeAssistant, entry: ChargehandConfigEntry) -> None:
    """Follow windows and nights at each poll, before the entities show them, and look at the meters every hour."""
    coordinator = entry.runtime_data

    @callback
    def follow() -> None:
        if coordinator.last_update_success:
            snapshot, confirmed = coordinator.data, coordinator.monitor.state.status is ScheduleStatus.CONFIRMED
            follow_windows(coordinator.past, coordinator.inverter, snapshot, confirmed=confirmed)
            follow_nights(coordinator.nights, coordinator.past, level_of(snapshot))

    @callback
    def settle(_now: datetime) -> None:
        entry.async_create_background_task(hass, coordinator.settle_nights(), f"{entry.title} - look at the meters")

    entry.async_on_unload(
        coordinator.async_add_listener(follow, Subscription(needs=FOLLOWED & coordinator.inverter.reader.all_keys()))
    )
    entry.async_on_unload(async_track_time_change(hass, settle, minute=SETTLES_AT_MINUTE, second=0))
    follow()


def _map_invalid(hass: HomeAssistant, entry: ChargehandConfigEntry, fault: MapInvalid) -> ConfigEntryError:
    """List every mistake of a map under Repairs; the error lists them too."""
    mistakes = map_mistakes(fault)
    raise_issue(hass, entry.entry_id, MAP_INVALID, inverter=entry.title, problems=bullets(mistakes))
    return _refused("map_invalid", problems="\n".join(mistakes))


def _register_device(
    hass: HomeAssistant, entry: ChargehandConfigEntry, register_map: RegisterMap, identity: dict[str, Value | None]
) -> None:
    """Register the inverter as a device, with what it says of itself."""
    dr.async_get(hass).async_get_or_create(
        config_entry_id=entry.entry_id,
        identifiers={device_identifier(entry.entry_id)},
        name=entry.title,
        manufacturer=register_map.maker or None,
        model=register_map.model or None,
        serial_number=serial_of(identity),
        sw_version=_text(identity.get("firmware")),
    )


def _forget_vanished(hass: HomeAssistant, entry: ChargehandConfigEntry) -> None:
    """Take entities out of the registry that the map or the options no longer have; the others keep their history.

    A platform that could not be set up says nothing of what they have: then all stay.
    """
    offered = entry.runtime_data.offered
    if not offered.keys() >= set(PLATFORMS):
        return
    registry = er.async_get(hass)
    for entity in er.async_entries_for_config_entry(registry, entry.entry_id):
        # One that became another kind (a sensor that is a binary sensor now) has its unique id still, on another platform.
        if entity.unique_id not in offered.get(entity.domain, ()):
            registry.async_remove(entity.entity_id)


def _text(value: Value | None) -> str | None:
    return None if value is None else str(value)
