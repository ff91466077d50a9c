"""An inverter that nobody has described yet: how to speak to it, and nothing of what its registers mean."""

from .register_map import Address, LineRules, RegisterMap, Table

NO_MAP = "none"
"""The id under which it is picked, beside the maps of files."""

FIRST_TRIED: tuple[Address, ...] = ((Table.HOLDING, 0), (Table.INPUT, 0), (Table.HOLDING, 100), (Table.INPUT, 100))
"""Registers that are tried where none is known: most inverters answer, if only that there is no such register."""


def no_map(rules: LineRules, presence: Address = FIRST_TRIED[0]) -> RegisterMap:
    """Return the map of an inverter without one; `presence` is read to see whether it answers."""
    return RegisterMap(id=NO_MAP, title="No map yet", maker="", model="", source="", line=rules, presence=presence)
