"""What a poll costs the line when an inverter, or a part of it, falls silent: time-outs that others on the gateway wait for."""

from collections.abc import Collection
from contextlib import suppress
from pathlib import Path

import pytest
from homeassistant.core import HomeAssistant

from custom_components.chargehand.core.inverter.snapshot import ReadingValue
from custom_components.chargehand.core.modbus import NoAnswer, Refused
from custom_components.chargehand.core.registers import Poll
from tests.bench.plain import plain_device
from tests.calls import entity_id
from tests.conftest import AddInverter
from tests.plain_map import SERIAL, add_plain, plain_inverter

READS = 24
APART = 200
"""Registers from one value to the next: too many for one read."""

TRIES = 3
"""A read is sent three times before it counts as not answered (docs/how-it-works.md)."""

TEXT = "line: {timeout_ms: 100}\nreadings:\n" + "".join(
    f"  value_{number}: {{input: {APART * number}, name: Value {number}}}\n" for number in range(READS)
)
KEYS = [f"value_{number}" for number in range(READS)]
ALL = dict.fromkeys(KEYS, 7)

pytestmark = pytest.mark.usefixtures("socket_enabled")


@pytest.fixture
def hass_config_dir(hass_tmp_config_dir: str) -> str:
    return hass_tmp_config_dir


def registers() -> dict[int, int]:
    return {APART * number: 7 for number in range(READS)}


def of(numbers: Collection[int]) -> dict[str, ReadingValue]:
    """Return the values when these are not read."""
    return {key: value for key, value in ALL.items() if key not in {f"value_{number}" for number in numbers}}


async def test_an_inverter_that_falls_silent_costs_one_silent_read(tmp_path: Path) -> None:
    async with plain_device(inputs=registers()) as device, plain_inverter(tmp_path, TEXT, device) as inverter:
        assert (await inverter.reader.poll(KEYS, {Poll.FAST})).values == ALL
        assert len(device.requests) == READS
        device.requests.clear()
        device.silent = lambda _request: True
        with pytest.raises(NoAnswer):
            await inverter.reader.poll(KEYS, {Poll.FAST})
        assert len(device.requests) == TRIES
        device.requests.clear()
        with pytest.raises(NoAnswer):
            await inverter.reader.poll(KEYS, {Poll.FAST}, silent_for=1)
        assert len(device.requests) == 1
        device.silent = lambda _request: False
        assert (await inverter.reader.poll(KEYS, {Poll.FAST}, silent_for=2)).values == ALL


async def test_what_was_read_before_it_fell_silent_stays(tmp_path: Path) -> None:
    async with plain_device(inputs=registers()) as device, plain_inverter(tmp_path, TEXT, device) as inverter:
        device.silent = lambda _request: len(device.requests) > 5
        polled = await inverter.reader.poll(KEYS, {Poll.FAST})
        assert len(device.requests) == 5 + TRIES
        assert polled.values == of(range(5, READS))
        assert polled.missed == {f"value_{number}" for number in range(5, READS)}
        assert isinstance(polled.failure, NoAnswer)


async def test_an_exception_does_not_end_a_poll(tmp_path: Path) -> None:
    async with plain_device(inputs=registers()) as device, plain_inverter(tmp_path, TEXT, device) as inverter:
        device.refuses = lambda request: 2 if request.first in {0, APART, APART * 9} else None
        polled = await inverter.reader.poll(KEYS, {Poll.FAST})
        assert len(device.requests) == READS
        assert polled.values == of({0, 1, 9})
        assert isinstance(polled.failure, Refused)


@pytest.mark.parametrize("dead", [{3}, {0, 1}, {2, 9, 10, 17, 23}])
async def test_registers_that_never_answer_take_no_others_with_them(tmp_path: Path, dead: set[int]) -> None:
    """Some inverters say nothing where others answer that there is no such register (common practice, no source)."""
    async with plain_device(inputs=registers()) as device, plain_inverter(tmp_path, TEXT, device) as inverter:
        device.silent = lambda request: request.first // APART in dead
        for silent_for in range(len(dead)):
            with suppress(NoAnswer):
                await inverter.reader.poll(KEYS, {Poll.FAST}, silent_for=min(silent_for, 1))
        for _ in range(3):
            device.requests.clear()
            assert (await inverter.reader.poll(KEYS, {Poll.FAST})).values == of(dead)
            assert len(device.requests) == READS - len(dead) + TRIES
        device.silent = lambda _request: False
        assert (await inverter.reader.poll(KEYS, {Poll.FAST})).values == ALL


GATEWAY_SILENT = 11
"""The gateway's target did not answer (Modbus Application Protocol V1.1b3, 7)."""


async def test_a_gateway_that_reports_a_silent_unit_gets_two_reads(tmp_path: Path) -> None:
    """Each such answer takes as long as the gateway waits; one may be a lost frame."""
    async with plain_device(inputs=registers()) as device, plain_inverter(tmp_path, TEXT, device) as inverter:
        device.refuses = lambda _request: GATEWAY_SILENT
        with pytest.raises(Refused):
            await inverter.reader.poll(KEYS, {Poll.FAST})
        assert len(device.requests) == 2
        device.requests.clear()
        with pytest.raises(Refused):
            await inverter.reader.poll(KEYS, {Poll.FAST}, silent_for=1)
        assert len(device.requests) == 1
        device.requests.clear()
        device.refuses = lambda request: GATEWAY_SILENT if request.first == APART * 4 else None
        assert (await inverter.reader.poll(KEYS, {Poll.FAST})).values == of({4})
        assert len(device.requests) == READS


async def test_the_first_silent_poll_of_a_house_keeps_its_values_and_the_second_does_not(
    hass: HomeAssistant, add_inverter: AddInverter
) -> None:
    async with plain_device(inputs=registers()) as device:
        entry = await add_plain(hass, add_inverter, TEXT, device)
        shown = [entity_id(hass, "sensor", key, SERIAL) for key in KEYS]

        def states() -> set[str | None]:
            return {state.state for one in shown if one is not None and (state := hass.states.get(one)) is not None}

        assert states() == {"7"}
        for asked, state in ((TRIES, "7"), (1, "unavailable"), (1, "unavailable")):
            device.silent = lambda _request: True
            device.requests.clear()
            await entry.runtime_data.async_refresh()
            await hass.async_block_till_done()
            assert len(device.requests) == asked
            assert states() == {state}
        device.silent = lambda _request: False
        await entry.runtime_data.async_refresh()
        await hass.async_block_till_done()
        assert states() == {"7"}
