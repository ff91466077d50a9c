"""Telling about registers that an inverter does not have: what stands in the log, in the diagnostics and under Repairs."""

import logging
from typing import Any

from homeassistant.core import HomeAssistant, callback

from ..core.inverter import Holes, listed
from ..core.registers import SUNSPEC, LineRules, RegisterMap, Span
from ..messages import REGISTERS_REFUSED, clear_issue, raise_issue

_LOGGER = logging.getLogger(__name__)


class MissingRegisters:
    """Tells what is found of one inverter's registers, each thing once."""

    def __init__(self, hass: HomeAssistant, entry_id: str, title: str, register_map: RegisterMap, holes: Holes) -> None:
        """Set up for the entry of an inverter with this title, map and holes."""
        self._hass = hass
        self._entry_id = entry_id
        self._title = title
        self._map = register_map
        self._holes = holes
        self._told = 0
        self._logged: set[Span | int | str] = set()

    @callback
    def tell(self) -> None:
        """Log what is new since this was called last, and create or delete the repair issue of refused points."""
        holes = self._holes
        if holes.version == self._told:
            return
        self._told = holes.version
        self._log()
        points = _points(holes, self._map.line)
        if points:
            raise_issue(self._hass, self._entry_id, REGISTERS_REFUSED, inverter=self._title, points=", ".join(points))
        else:
            clear_issue(self._hass, self._entry_id, REGISTERS_REFUSED)

    def _log(self) -> None:
        rules, holes = self._map.line, self._holes
        of_file = self._map.id != SUNSPEC
        spans = [span for span in holes.unlisted if self._is_new(span)]
        if spans:
            items = "".join(f"\n    {no_read_item(span, rules)}" for span in spans)
            advice = f" Add to the register map:\nline:\n  no_read:{items}" if of_file else ""
            crossed = listed(spans, rules)
            _LOGGER.warning(
                "%s refuses reads across %s, so Chargehand reads around them.%s", self._title, crossed, advice
            )
        longest = holes.longest_read
        if longest is not None and self._is_new(longest):
            advice = f" Write into the register map:\nline:\n  longest_read: {longest}" if of_file else ""
            _LOGGER.warning("%s answers reads of %s registers at most.%s", self._title, longest, advice)
        points = [point for point in _points(holes, rules) if self._is_new(point)]
        if points:
            _LOGGER.warning("%s refuses to read %s", self._title, ", ".join(points))

    def _is_new(self, what: Span | int | str) -> bool:
        if what in self._logged:
            return False
        self._logged.add(what)
        return True


def missing_registers(register_map: RegisterMap, holes: Holes) -> dict[str, Any]:
    """Return what was found, for the diagnostics."""
    return {
        "no_read": [no_read_item(span, register_map.line) for span in holes.unlisted],
        "refused": _points(holes, register_map.line),
        "longest_read": holes.longest_read,
    }


def no_read_item(span: Span, rules: LineRules) -> str:
    """Return the item of a map's `no_read` that names these registers."""
    base = rules.first_number
    return f"- {{table: {span.table}, from: {span.first + base}, to: {span.last + base}}}"


def _points(holes: Holes, rules: LineRules) -> list[str]:
    return [f"{key} ({listed(spans, rules)})" for key, spans in holes.keys.items()]
