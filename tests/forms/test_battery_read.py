"""The battery's options from what an inverter reports. Figures are worked out by hand beside each case."""

from typing import Any

import pytest

from custom_components.chargehand.core.registers import load_map
from custom_components.chargehand.forms import battery_read
from tests.test_config_flow import TEASEL

VALUES: dict[str, Any] = {
    "rated_capacity": 9.84,
    "rated_power": 4600,
    "battery_voltage": 51.2,
    "battery_level": 40,
    "battery_charge_current_limit": 50.0,
    "battery_discharge_current_limit": 100.0,
    "reserve_level": 15,
}


def read(**changed: Any) -> dict[str, float]:
    values = {key: value for key, value in {**VALUES, **changed}.items() if value is not None}
    return battery_read(load_map(TEASEL), values)


def test_figures_are_rounded_to_the_forms_steps_and_powers_down() -> None:
    # 50 A × 51.2 V = 2.56 kW; 100 A × 51.2 V = 5.12 kW, but the inverter has 4.6.
    assert read() == {"capacity_kwh": 9.8, "charge_kw": 2.5, "discharge_kw": 4.6, "reserve_level": 15}


@pytest.mark.parametrize(
    ("changed", "charge", "discharge"),
    [
        # A battery that is nearly full or empty lowers its limit: it says nothing of a battery with room.
        ({"battery_level": 96, "battery_charge_current_limit": 4.0}, 4.6, 4.6),
        ({"battery_level": 12, "battery_discharge_current_limit": 4.0}, 2.5, 4.6),
        # A limit of 0, too cold to charge, or none that was read: what is left is the inverter's.
        ({"battery_charge_current_limit": 0.0}, 4.6, 4.6),
        ({"battery_voltage": None}, 4.6, 4.6),
        # The window's registers hold 5000 W at most.
        ({"rated_power": 8000, "battery_charge_current_limit": 150.0}, 5.0, 5.0),
        ({"rated_power": None}, 2.5, 5.0),
    ],
)
def test_a_power_is_the_least_of_what_bounds_it(changed: dict[str, Any], charge: float, discharge: float) -> None:
    found = read(**changed)
    assert (found["charge_kw"], found["discharge_kw"]) == (charge, discharge)


def test_what_is_not_known_is_left_out() -> None:
    unknown = dict.fromkeys(VALUES)
    # 10 %: the lowest level at which one of the Teasel's windows can stop.
    assert read(**unknown) == {"reserve_level": 10}
    assert read(reserve_level=None)["reserve_level"] == 10
    assert "capacity_kwh" not in read(rated_capacity=0)
    assert "capacity_kwh" not in read(rated_capacity=True)
    assert "charge_kw" not in read(rated_power=None, battery_charge_current_limit=0)
