"""The chain of SunSpec models: a marker, then models one after the other, each with its id and its length."""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass

from ...reasons import Reason
from ..register_map import MapInvalid, Problem, Table, cure, mistake

MARKER = (0x5375, 0x6E53)
"""The letters SunS."""

BASES = (40000, 50000, 0)
"""Where the marker can stand, as addresses on the wire, in the order of the standard's preference."""

END = 0xFFFF
"""The id after the last model."""

LAST_REGISTER = 0xFFFF

LONGEST_MODEL = 5000
"""Registers; several times the longest model that is published (from memory). What claims more is no model."""

MOST_MODELS = 200
"""Several times what any inverter needs: a chain of this length leads nowhere."""

type Read = Callable[[Table, int, int], Awaitable[tuple[int, ...]]]
"""Reads `count` registers of a table from `first` on. Raises NotThere when the inverter says that it has none there."""


class NotThere(Exception):
    """The inverter answered that it has no such registers."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Model:
    """A model in the chain: the address of its id, and how many registers follow on its id and length."""

    id: int
    first: int
    length: int


async def read_chain(read: Read) -> tuple[Model, ...]:
    """All models in their order. Raises MapInvalid when there is no chain or it cannot be right, and what `read` raises."""
    for base in BASES:
        try:
            found = await read(Table.HOLDING, base, len(MARKER))
        except NotThere:
            continue
        if found == MARKER:
            return await _walk(read, base + len(MARKER))
    raise wrong(BASES[0], mistake("sunspec_no_marker", second=BASES[1], third=BASES[2]), cure("sunspec_switch_on"))


def wrong(address: int, reason: Reason, cure: Reason, *, key: str = "SunSpec") -> MapInvalid:
    """Return what is wrong with a chain, shown like a mistake in a map: the register stands for the line."""
    return MapInvalid([Problem(file="holding", line=address, key=key, reason=reason, cure=cure)])


async def _walk(read: Read, first: int) -> tuple[Model, ...]:
    models: list[Model] = []
    at = first
    while len(models) < MOST_MODELS:
        model_id, length = await _header(read, at)
        if model_id == END:
            return tuple(models)
        if model_id == 0 or not 0 < length <= LONGEST_MODEL:
            raise _broken(at, mistake("sunspec_absurd", model=model_id, length=length))
        models.append(Model(id=model_id, first=at, length=length))
        at += 2 + length
    raise _broken(at, mistake("sunspec_endless", count=MOST_MODELS))


async def _header(read: Read, at: int) -> tuple[int, int]:
    if at >= LAST_REGISTER:
        raise _broken(LAST_REGISTER, mistake("sunspec_past_last"))
    try:
        model_id, length = await read(Table.HOLDING, at, 2)
    except NotThere:
        # The end has a length too, but not every inverter keeps one.
        if await _is_end(read, at):
            return END, 0
        raise _broken(at, mistake("sunspec_gap")) from None
    return model_id, length


async def _is_end(read: Read, at: int) -> bool:
    try:
        return await read(Table.HOLDING, at, 1) == (END,)
    except NotThere:
        return False


def _broken(at: int, reason: Reason) -> MapInvalid:
    return wrong(at, reason, cure("sunspec_firmware"))
