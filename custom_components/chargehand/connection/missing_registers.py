"""Telling about registers that an inverter does not have: what stands in the log, in the diagnostics and under Repairs."""

import logging
from collections.abc import Iterable
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
        self._logged: set[str] = set()

    @callback
    def tell(self) -> None:
        """Log what is new since this was called last, and create or delete the repair issue of refused points."""
        holes = self._holes
        if holes.version == self._told:
            return
        self._told = holes.version
        for fault in self._faults():
            if fault not in self._logged:
                self._logged.add(fault)
                _LOGGER.warning("%s: %s", self._title, fault)
        points = _points(holes, self._map.line)
        if points:
            raise_issue(self._hass, self._entry_id, REGISTERS_REFUSED, inverter=self._title, points=", ".join(points))
        else:
            clear_issue(self._hass, self._entry_id, REGISTERS_REFUSED)

    def _faults(self) -> Iterable[str]:
        holes = self._holes
        of_file = self._map.id != SUNSPEC
        for span in holes.unlisted:
            found = f"reads that cross {listed([span], self._map.line)} are refused, so Chargehand reads around it"
            line = no_read_item(span, self._map.line)
            yield f"{found}. In the register map, add under line, no_read: {line}" if of_file else found
        if holes.longest_read is not None and of_file:
            yield f"it answers reads of {holes.longest_read} registers at most. In the register map, write under line: longest_read: {holes.longest_read}"
        for point in _points(holes, self._map.line):
            yield f"it refuses to read {point}"


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
