"""A real `Inverter` for tests, with short waiting times."""

from zoneinfo import ZoneInfo

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.modbus import Gateway, Line
from custom_components.chargehand.core.registers import RegisterMap
from custom_components.chargehand.core.schedule.commit_terms import Patience
from custom_components.chargehand.core.schedule.journal import Journal

LONDON = ZoneInfo("Europe/London")
PATIENCE = Patience(settle=0.005, answered=0.25, unanswered=0.06, busy=0.06, tries=3)


def make_inverter(register_map: RegisterMap, gateway: Gateway, journal: Journal | None) -> Inverter:
    """An inverter with the tests' patience."""
    rules = register_map.line
    inverter = Inverter(
        register_map,
        Line(gateway, unit=rules.unit, timeout_ms=rules.timeout_ms, pause_ms=rules.pause_ms),
        LONDON,
        journal=journal,
    )
    inverter.commit_rules.patience = PATIENCE
    return inverter
