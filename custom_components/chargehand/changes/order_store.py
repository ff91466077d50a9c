"""Keeps an order over restarts."""

import logging
from contextlib import suppress
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers.storage import Store

from ..const import DOMAIN
from ..core.order import Order, OrderState

_LOGGER = logging.getLogger(__name__)

VERSION = 1


class OrderStore:
    """One inverter's last order and its state, in Home Assistant's storage."""

    def __init__(self, hass: HomeAssistant, entry_id: str) -> None:
        """Prepare; `load` reads it."""
        self._store = Store[dict[str, Any]](hass, VERSION, f"{DOMAIN}.{entry_id}.order", atomic_writes=True)

    async def load(self) -> tuple[OrderState, Order | None]:
        """Return what was kept; no order where there is none, or where it cannot be understood."""
        data = await self._store.async_load() or {}
        with suppress(AttributeError, KeyError, TypeError, ValueError):
            return OrderState(data["state"]), Order.from_dict(data["order"])
        return OrderState.NONE, None

    async def save(self, state: OrderState, order: Order | None) -> None:
        """Write to disk now. A disk that takes nothing is logged: the order then ends with this run of Home Assistant."""
        try:
            await self._store.async_save({"state": str(state), "order": None if order is None else order.as_dict()})
        except OSError:
            _LOGGER.exception("An order could not be written to disk")

    async def forget(self) -> None:
        """Delete the file; the inverter was removed."""
        await self._store.async_remove()
