"""What a house shows of a register map of its own that has mistakes: the first of them, how many more, and what to write."""

from pathlib import Path

import pytest
from homeassistant.config_entries import SOURCE_USER, ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir

from custom_components.chargehand.diagnostics import async_get_config_entry_diagnostics
from custom_components.chargehand.messages import map_doubts
from tests.bench.plain import plain_device
from tests.conftest import AddInverter
from tests.plain_map import HEAD, SERIAL, add_plain, write_map

MANY = "readings:\n" + "".join(f"  a{number}: {{input: {number}}}\n" for number in range(3000))
UNCLEAR = "readings:\n  loop: {input: 0100, name: Loop}\n"
LONGEST = 40_000
"""Characters of all that is shown."""


@pytest.fixture
def hass_config_dir(hass_tmp_config_dir: str) -> str:
    return hass_tmp_config_dir


async def shown_mistakes(hass: HomeAssistant, add_inverter: AddInverter, text: str) -> str:
    """What stands under Repairs for a map."""
    write_map(Path(hass.config.path("chargehand")), text)
    entry = await add_inverter(1, state=ConfigEntryState.SETUP_ERROR, unique_id=SERIAL, register_map="plain")
    issue = ir.async_get(hass).async_get_issue("chargehand", f"map_invalid_{entry.entry_id}")
    assert issue is not None
    assert issue.translation_placeholders is not None
    assert entry.reason is not None
    assert len(entry.reason) < LONGEST
    return issue.translation_placeholders["problems"]


async def test_of_many_mistakes_the_first_are_told_and_how_many_more(
    hass: HomeAssistant, add_inverter: AddInverter
) -> None:
    lines = (await shown_mistakes(hass, add_inverter, MANY)).splitlines()
    assert len(lines) == 21
    assert lines[0].startswith(f"- plain.yaml:{HEAD.count('\n') + 2}: readings.a0: ")
    assert lines[-1] == "- and 2,980 more mistakes"
    assert sum(map(len, lines)) < LONGEST


async def test_the_form_tells_as_much(hass: HomeAssistant) -> None:
    write_map(Path(hass.config.path("chargehand")), MANY)
    form = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
    data = {"host": "127.0.0.1", "port": 1, "framing": "tcp", "register_map": "plain"}
    form = await hass.config_entries.flow.async_configure(form["flow_id"], data)
    assert form["errors"] == {"register_map": "map_invalid"}
    shown = form["description_placeholders"]
    assert shown is not None
    assert len(shown["lists"]) < LONGEST
    assert shown["lists"].endswith("and 2,980 more mistakes")


async def test_a_number_that_can_be_read_in_two_ways_is_told_with_what_to_write(
    hass: HomeAssistant, add_inverter: AddInverter
) -> None:
    (line,) = (await shown_mistakes(hass, add_inverter, UNCLEAR)).splitlines()
    assert "readings.loop.input: 0100 can be read in two ways" in line
    assert "write 100 if it is decimal, 0x100 if it is hexadecimal" in line


DOUBTFUL = "readings:\n  battery_power: {input: 5, type: s16}\ncontrols:\n  loop: {holding: 1, name: Loop}\n"


@pytest.mark.usefixtures("socket_enabled")
async def test_what_is_doubtful_stands_in_the_log_and_the_inverter_works(
    hass: HomeAssistant, add_inverter: AddInverter, caplog: pytest.LogCaptureFixture
) -> None:
    async with plain_device(holding={1: 7}, inputs={5: 1500}) as device:
        entry = await add_plain(hass, add_inverter, DOUBTFUL, device)
        told = [record.getMessage() for record in caplog.records if "can be used, but" in record.getMessage()]
        line = HEAD.count("\n") + 2
        shown = map_doubts(entry.runtime_data.inverter.map)
        assert told == [f"The register map of {entry.title} can be used, but {doubt}" for doubt in shown]
        diagnostics = await async_get_config_entry_diagnostics(hass, entry)
        assert diagnostics["map"]["warnings"] == list(shown)
        assert [doubt.split(": warning: ")[0] for doubt in shown] == [
            f"plain.yaml:{line}: readings.battery_power",
            f"plain.yaml:{line + 2}: controls.loop",
        ]
