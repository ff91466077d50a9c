"""The first form's register maps: one's own first, none picked by itself, what is not used with its reason, and which ones fit."""

from pathlib import Path
from typing import Any

import pytest
from homeassistant.config_entries import SOURCE_USER, ConfigFlowResult
from homeassistant.core import HomeAssistant

from custom_components import chargehand
from tests.bench.plain import INPUT, plain_device
from tests.bench.remote import Bench
from tests.teasel import INPUT_AT

TEASEL = (Path(chargehand.__file__).parent / "maps" / "teasel_t5.yaml").read_text()
LINE = {
    "unit": 1,
    "numbering": "from_0",
    "longest_read": 125,
    "pause_ms": 0,
    "timeout_ms": 500,
    "test_table": "holding",
}


def keep(hass: HomeAssistant, name: str, content: str = TEASEL) -> None:
    path = Path(hass.config.path("chargehand", name))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(content)


async def first_form(hass: HomeAssistant) -> ConfigFlowResult:
    return await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})


async def submit(hass: HomeAssistant, port: int, **changed: object) -> ConfigFlowResult:
    form = await first_form(hass)
    data = {"host": "127.0.0.1", "port": port, "framing": "tcp", "register_map": "teasel_t5"} | changed
    return await hass.config_entries.flow.async_configure(form["flow_id"], data)


def said(form: ConfigFlowResult, name: str) -> str:
    assert form["description_placeholders"] is not None
    return str(form["description_placeholders"][name])


def maps(form: ConfigFlowResult) -> list[dict[str, Any]]:
    assert form["data_schema"] is not None
    options: list[dict[str, Any]] = form["data_schema"].schema["register_map"].config["options"]
    return options


async def test_ones_own_maps_come_first_and_no_map_last(hass: HomeAssistant) -> None:
    keep(hass, "zeta.yaml", TEASEL.replace("title: Teasel T5 (bench inverter)", "title: Zeta"))
    keep(hass, "wrong.yaml", "no map")
    options = maps(await first_form(hass))
    assert [one["label"] for one in options[:2]] == ["wrong.yaml", "Zeta"]
    assert [one["label"] for one in options[2:-1]] == sorted((one["label"] for one in options[2:-1]), key=str.casefold)
    assert options[-1] == {"value": "none", "label": "No map yet"}


async def test_no_map_is_picked_by_itself(hass: HomeAssistant, bench: Bench) -> None:
    form = await first_form(hass)
    assert form["data_schema"] is not None
    filled = form["data_schema"]({"host": "127.0.0.1"})
    assert "register_map" not in filled
    form = await hass.config_entries.flow.async_configure(form["flow_id"], {**filled, "port": bench.port})
    assert form["errors"] == {"register_map": "map_missing"}


async def test_files_that_are_not_used_are_listed_with_the_reason(hass: HomeAssistant) -> None:
    for name in ("mine.yml", "Mine.yaml", "none.yaml", "old/teasel.yaml", "notes.txt", ".hidden", ".git/config"):
        keep(hass, name)
    form = await first_form(hass)
    assert "teasel" not in {one["value"] for one in maps(form)}
    assert said(form, "lists").split("\n- ")[1:] == [
        r"Mine.yaml: its name may only have small letters, digits and \_",
        "mine.yml: its name has to end in .yaml",
        "none.yaml: none.yaml is taken, for an inverter without a map; give it another name",
        "notes.txt: its name has to end in .yaml",
        "old/teasel.yaml: it is in a subfolder; move it up",
    ]


async def test_a_folder_of_many_files_lists_some_and_counts_the_others(hass: HomeAssistant) -> None:
    for number in range(14):
        keep(hass, f"photo_{number:02}.jpg")
    lines = said(await first_form(hass), "lists").split("\n- ")[1:]
    assert len(lines) == 11
    assert lines[-1] == "There are 4 more."


async def test_a_map_that_is_called_none_is_no_map(hass: HomeAssistant, bench: Bench, london: None) -> None:
    keep(hass, "none.yaml")
    form = await submit(hass, bench.port, register_map="none")
    assert form["step_id"] == "line"


async def test_other_maps_that_fit_what_answers_are_named(hass: HomeAssistant, bench: Bench) -> None:
    keep(hass, "mine.yaml", TEASEL.replace("title: Teasel T5 (bench inverter)", "title: Teasel of *the* cellar"))
    keep(hass, "other.yaml", TEASEL.replace("expect: [5110, 5111]", "expect: [7000]"))
    form = await submit(hass, bench.port)
    assert form["step_id"] == "confirm"
    head, *fits = said(form, "look_again").strip().split("\n- ")
    assert head.startswith("Other register maps fit what answers, too.")
    assert fits == [r"Teasel of \*the\* cellar"]


async def test_without_a_map_the_ones_that_fit_are_named(hass: HomeAssistant, bench: Bench) -> None:
    form = await submit(hass, bench.port, register_map="none")
    form = await hass.config_entries.flow.async_configure(form["flow_id"], LINE)
    assert form["step_id"] == "unmapped"
    assert said(form, "look_again").strip().split("\n- ")[1:] == ["Teasel T5 (bench inverter)"]


async def test_where_the_wrong_map_was_picked_the_right_one_is_named(hass: HomeAssistant, bench: Bench) -> None:
    keep(hass, "other.yaml", TEASEL.replace("expect: [5110, 5111]", "expect: [7000]"))
    form = await submit(hass, bench.port, register_map="other")
    assert form["errors"] == {"base": "other_inverter"}
    assert said(form, "detail").endswith("These maps fit it: Teasel T5 (bench inverter)")


async def test_what_a_map_forbids_to_read_is_not_read_to_look_for_others(hass: HomeAssistant, bench: Bench) -> None:
    code = INPUT_AT["model_code"]
    own = "\n".join(line for line in TEASEL.splitlines() if "model_code" not in line)
    keep(
        hass, "mine.yaml", own.replace("no_read:\n", f"no_read:\n    - {{table: input, from: {code}, to: {code}}}\n", 1)
    )
    form = await submit(hass, bench.port, register_map="mine")
    assert form["step_id"] == "confirm", (form["errors"], said(form, "lists"))
    assert said(form, "look_again") == ""
    reads = [one for one in await bench.journal() if one["function"] == 4]
    assert not any(one["first"] <= code < one["first"] + one["count"] for one in reads)


async def test_what_a_map_forbids_to_read_is_not_read_across_either(hass: HomeAssistant, socket_enabled: None) -> None:
    head = "chargehand_map: 1\ntitle: {}\nmaker: Nobody\nmodel: Nothing\nsource: invented for this test\n"
    readings = "readings:\n  battery_level: {holding: 0}\n"
    barred = "line:\n  no_read: [{table: input, from: 11, to: 11}]\n"
    keep(hass, "mine.yaml", head.format("Mine") + barred + readings)
    both = "identity:\n  one: {input: 10, expect: [1]}\n  other: {input: 12, expect: [1]}\n"
    keep(hass, "other.yaml", head.format("Other") + both + readings)
    async with plain_device(holding={0: 50}, inputs=dict.fromkeys(range(500), 1)) as device:
        form = await submit(hass, device.port, register_map="mine")
        assert form["step_id"] == "confirm", form["errors"]
        assert said(form, "look_again").endswith("- Other")
        assert not [one for one in device.requests if one.touches(INPUT, 11)]
        hass.config_entries.flow.async_abort(form["flow_id"])


async def test_what_is_doubtful_in_a_map_is_shown_with_what_was_found(hass: HomeAssistant, bench: Bench) -> None:
    keep(hass, "mine.yaml", TEASEL.replace("unit: W, min: 0, max: 5000", "unit: W, min: 0", 1))
    form = await submit(hass, bench.port, register_map="mine")
    assert form["step_id"] == "confirm", (form["errors"], said(form, "lists"))
    doubts = said(form, "look_again")
    assert "The register map works, but some of it is doubtful." in doubts
    assert "\n- mine.yaml:" in doubts


@pytest.mark.parametrize("silence", ["no answer", "said by the gateway"])
async def test_one_that_is_silent_about_another_maps_registers_is_asked_once(
    hass: HomeAssistant, socket_enabled: None, silence: str
) -> None:
    """0B: the gateway's word for a unit that does not answer (Modbus Application Protocol V1.1b3, section 7)."""
    async with plain_device(holding={0: 0}, inputs=dict.fromkeys(range(10000), 0)) as device:
        if silence == "no answer":
            device.silent = lambda request: request.table == INPUT
        else:
            device.refuses = lambda request: 11 if request.table == INPUT else None
        form = await submit(hass, device.port, register_map="none")
        form = await hass.config_entries.flow.async_configure(form["flow_id"], LINE)
        assert form["step_id"] == "unmapped"
        assert len([one for one in device.requests if one.table == INPUT]) == 1
        hass.config_entries.flow.async_abort(form["flow_id"])
