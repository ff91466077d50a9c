"""Keeps an order over restarts."""

from contextlib import suppress
from typing import Any

from ..core.order import Order, OrderState
from ..store import Section


class OrderStore:
    """One inverter's last order and its state."""

    def __init__(self, section: Section) -> None:
        """Read what was kept; no order where there is none, or where it cannot be understood."""
        self.state = OrderState.NONE
        self.order: Order | None = None
        self._section = section
        with suppress(AttributeError, KeyError, TypeError, ValueError):
            state, order = OrderState(section.found["state"]), Order.from_dict(section.found["order"])
            self.state, self.order = state, order
        self._kept = self._data()
        section.keep(lambda: self._kept)

    async def save(self, state: OrderState, order: Order | None) -> None:
        """Write to disk now. A disk that takes nothing is logged: the order then ends with this run of Home Assistant."""
        self.state, self.order = state, order
        self._kept = self._data()
        await self._section.write_now()

    def _data(self) -> dict[str, Any]:
        return {"state": str(self.state), "order": None if self.order is None else self.order.as_dict()}
