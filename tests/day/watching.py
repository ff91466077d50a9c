"""A card that watches an inverter's day over the websocket: it puts the pushed sections together as the card does."""

from collections.abc import Awaitable, Callable
from typing import Any

from pytest_homeassistant_custom_component.typing import MockHAClientWebSocket


class Card:
    """`day` is all that was pushed, `pushed` each event."""

    def __init__(self, connect: Callable[[], Awaitable[MockHAClientWebSocket]]) -> None:
        self._connect = connect
        self._number = 0
        self.day: dict[str, Any] = {}
        self.pushed: list[dict[str, Any]] = []

    async def watch(self, device_id: str) -> dict[str, Any]:
        """Subscribe, and return the first event."""
        # Whatever serves pages has to be there before somebody connects.
        self.client = await self._connect()
        await self.client.send_json_auto_id({"type": "chargehand/day/subscribe", "device_id": device_id})
        answer = await self.client.receive_json()
        assert answer["success"], answer
        assert answer["result"] is None
        self._number = answer["id"]
        return await self.next()

    async def next(self) -> dict[str, Any]:
        """Wait for the next event, and return what it brought."""
        message = await self.client.receive_json()
        assert (message["type"], message["id"]) == ("event", self._number), message
        event: dict[str, Any] = message["event"]
        self.pushed.append(event)
        self.day |= event
        return event

    async def until(self, seen: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        """Wait until the day is as it should be, and return it."""
        while not seen(self.day):
            await self.next()
        return self.day

    async def stop(self) -> None:
        """Unsubscribe."""
        await self.client.send_json_auto_id({"type": "unsubscribe_events", "subscription": self._number})
        while (answer := await self.client.receive_json())["type"] == "event":
            pass
        assert answer["success"]
