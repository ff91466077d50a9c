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
        for key, value in document.shown.items():
            is_binary = isinstance(value, bool | tuple)
            found = find_entity(hass, "binary_sensor" if is_binary else "sensor", key, document.serial)
            assert found is not None, key
            shown = hass.states.get(found)
            assert shown is not None, key
            if is_binary:
                assert shown.state == STATE_ON
                seen[key] = tuple(shown.attributes["active"]) if isinstance(value, tuple) else True
            else:
                seen[key] = shown.state if isinstance(value, str) else float(shown.state)
        assert seen == document.shown
        assert not device.written
