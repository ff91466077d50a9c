"""What happens in a battery's room, in words."""

from collections.abc import Sequence

from homeassistant.core import State, callback

from ..core.battery_room import Cause, RoomEvent, RoomLimits, RoomNews
from .stop_text import Message
from .texts import sentence, text


@callback
def room_text(
    news: RoomNews, limits: RoomLimits, sensors: Sequence[tuple[str, State | None]], *, charges: bool | None
) -> Message:
    """Return the report of a room; `sensors` are those of the news with their states, `charges` whether the charge is armed."""
    match news.event:
        case RoomEvent.SILENT:
            names = ", ".join(_name(*sensor) for sensor in sensors)
            return Message(title=text("room_silent_title"), message=sentence("room_silent", sensors=names))
        case RoomEvent.NORMAL:
            return Message(title=text("room_normal_title"), message=_values(sensors))
        case RoomEvent.ARMED:
            return Message(title=text("room_armed_title"), message=sentence("room_armed"))
        case _:
            return Message(title=text(f"room_{news.cause}_title"), message=_danger(news, limits, sensors, charges))


def _danger(
    news: RoomNews, limits: RoomLimits, sensors: Sequence[tuple[str, State | None]], charges: bool | None
) -> str:
    if news.cause is Cause.SMOKE:
        advice = sentence("room_smoke")
    else:
        # The limits are in the unit of the sensors that they are held against.
        unit = next((f" {unit}" for _, state in sensors if (unit := _unit(state)) is not None), "")
        advice = sentence("room_limits", low=f"{limits.low:g}", high=f"{limits.high:g}", unit=unit)
    disarmed = news.event is RoomEvent.WORSE and charges is False
    return " ".join(
        (
            _values(sensors),
            advice,
            sentence("room_disarmed" if disarmed else "room_disarming"),
            sentence("room_not_off"),
        )
    )


def _values(sensors: Sequence[tuple[str, State | None]]) -> str:
    return f"{', '.join(_value(*sensor) for sensor in sensors)}."


def _value(entity_id: str, state: State | None) -> str:
    """Return `Cellar: 43.5 °C`, or the name of an alarm alone, whose state the title says."""
    if state is None or (unit := _unit(state)) is None:
        return _name(entity_id, state)
    return f"{_name(entity_id, state)}: {state.state} {unit}"


def _unit(state: State | None) -> str | None:
    return None if state is None else state.attributes.get("unit_of_measurement")


def _name(entity_id: str, state: State | None) -> str:
    return entity_id if state is None else state.name
