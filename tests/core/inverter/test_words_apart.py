"""A counter whose two words lie apart carries between the read of one and of the other: what is shown was never a wrong value."""

from collections.abc import AsyncIterator, Sequence
from pathlib import Path

import pytest

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.registers import Poll
from tests.bench.plain import INPUT, Plain, Request, plain_device
from tests.plain_map import plain_inverter

HIGH, LOW = 381, 391
MAP = f"""\
readings:
  solar_energy: {{table: input, words: [{HIGH}, {LOW}], type: u32, scale: 0.1, unit: kWh}}
"""

pytestmark = pytest.mark.usefixtures("socket_enabled")


@pytest.fixture
async def device() -> AsyncIterator[Plain]:
    """A counter at 6553.5 kWh; between its words there is nothing, so that each comes in a read of its own."""
    async with plain_device(inputs={HIGH: 0, LOW: 65535}) as running:
        yield running


@pytest.fixture
async def inverter(tmp_path: Path, device: Plain) -> AsyncIterator[Inverter]:
    async with plain_inverter(tmp_path, MAP, device) as running:
        yield running


async def shown(inverter: Inverter) -> object:
    """What a poll shows of it."""
    polled = await inverter.reader.poll(["solar_energy"], [Poll.FAST])
    return polled.values["solar_energy"]


def set_words(device: Plain, words: Sequence[int]) -> None:
    device.registers[INPUT] |= dict(zip((HIGH, LOW), words, strict=True))


async def test_a_carry_between_the_reads_of_its_words_is_not_shown(inverter: Inverter, device: Plain) -> None:
    assert await shown(inverter) == 6553.5
    carried: list[Request] = []

    def carry(request: Request) -> None:
        """The counter goes on by 0.1 kWh after its high word was read alone."""
        if request.touches(INPUT, HIGH) and request.count == 1:
            carried.append(request)
            set_words(device, (1, 0))

    device.after = carry
    # Read are 0 and 0, which is 0 kWh: 6553.6 too little.
    assert await shown(inverter) == 6553.5
    assert carried
    assert await shown(inverter) == 6553.6
    set_words(device, (1, 3))
    device.after = lambda _request: None
    assert await shown(inverter) == 6553.9


async def test_a_counter_that_begins_again_is_shown_with_the_next_poll(inverter: Inverter, device: Plain) -> None:
    assert await shown(inverter) == 6553.5
    set_words(device, (0, 0))
    assert await shown(inverter) == 6553.5
    assert await shown(inverter) == 0
    set_words(device, (0, 2))
    assert await shown(inverter) == 0.2


async def test_the_first_value_is_shown_at_once(inverter: Inverter, device: Plain) -> None:
    set_words(device, (7, 9))
    assert await shown(inverter) == pytest.approx((7 * 65536 + 9) / 10)


async def test_two_carries_in_a_row_leave_the_value_that_was_seen_last(inverter: Inverter, device: Plain) -> None:
    assert await shown(inverter) == 6553.5
    for words in ((3, 0), (7, 0)):
        set_words(device, words)
        assert await shown(inverter) == 6553.5
    assert await shown(inverter) == 45875.2  # 7 × 65536, in 0.1 kWh
