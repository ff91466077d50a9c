"""The maps of the invented documents in Home Assistant: what its entities show, of registers served over real TCP.

Registers and what they mean are worked by hand from the documents. What a document does not list is refused with exception 2.
"""

import pytest
from homeassistant.const import STATE_ON
from homeassistant.core import HomeAssistant

from tests.bench.plain import plain_device
from tests.calls import find_entity
from tests.conftest import AddInverter
from tests.core.registers.made_by_hand import DOCUMENTS, MadeByHand


def in_state(value: object) -> object:
    """A value as an entity's state has it."""
    return float(value) if isinstance(value, int | float) else value


def served(document: MadeByHand, numbers: frozenset[int]) -> dict[int, int]:
    """All registers that are listed, on the wire."""
    held = {**document.inputs, **document.holdings}
    return {number - document.base: held.get(number, 0) for number in numbers}


@pytest.mark.usefixtures("socket_enabled")
@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda document: document.map)
async def test_what_the_entities_show(hass: HomeAssistant, add_inverter: AddInverter, document: MadeByHand) -> None:
    async with plain_device(
        inputs=served(document, document.listed_inputs), holding=served(document, document.listed_holdings)
    ) as device:
        await add_inverter(device.port, unique_id=document.serial, register_map=document.map)
        seen: dict[str, object] = {}
        for key in document.shown:
            sensor = find_entity(hass, "sensor" if key != "alarms" else "binary_sensor", key, document.serial)
            assert sensor is not None, key
            shown = hass.states.get(sensor)
            assert shown is not None, key
            if key == "alarms":
                assert shown.state == STATE_ON
                seen[key] = tuple(shown.attributes["active"])
            else:
                number = isinstance(document.shown[key], int | float)
                seen[key] = float(shown.state) if number else shown.state
        assert seen == {key: in_state(value) for key, value in document.shown.items()}
        assert not device.written
