"""What must be true after a commit, judged from the bench's memory and records alone."""

from collections.abc import Iterable, Sequence

from custom_components.chargehand.core.registers import RegisterMap, Table
from custom_components.chargehand.core.schedule.image import Image
from tests.bench.protocol import Acted, Entry
from tests.bench.teasel import CONTROL_WORD, SCHEDULE, WINDOW_REGISTERS

from .changes import FIRST_DISCHARGE, Change, Registers

type Acting = frozenset[tuple[int, ...]]
"""Windows that act: side, start, power, stop level, end."""


class OutcomeWrong(AssertionError):
    """The inverter is not as the commit reported."""


def image_of(registers: Registers, like: Image) -> Image:
    """The registers of an image, as memory has them."""
    return {address: registers[address[1]] for address in like}


def same(memory: Registers, wanted: Registers, *, whole_control: bool = True) -> bool:
    """Whether memory is what was wanted; of the control word only the arming bit if that is all that is ours."""
    mask = 0xFFFF if whole_control else 1
    return all(
        memory[address] == value if address != CONTROL_WORD else (memory[address] ^ value) & mask == 0
        for address, value in wanted.items()
    )


def difference(memory: Registers, wanted: Registers) -> dict[int, tuple[int, int]]:
    """Addresses that differ, with what is there and what was wanted."""
    return {at: (memory[at], value) for at, value in wanted.items() if memory[at] != value}


def windows(values: Sequence[int]) -> list[tuple[int, ...]]:
    """The six windows of the schedule's registers."""
    return [tuple(values[at : at + WINDOW_REGISTERS]) for at in range(0, len(values), WINDOW_REGISTERS)]


def acting(values: Sequence[int], *, armed: bool, without: Iterable[int] = ()) -> Acting:
    """The windows that act: armed, with a length and a power. `without`: numbers of windows to leave out, from 0."""
    if not armed:
        return frozenset()
    return frozenset(
        (number // FIRST_DISCHARGE, *window)
        for number, window in enumerate(windows(values))
        if window[0] != window[3] and window[1] > 0 and number not in set(without)
    )


def acting_of(registers: Registers) -> Acting:
    """The windows that act by these registers."""
    return acting([registers[at] for at in SCHEDULE], armed=bool(registers[CONTROL_WORD] & 1))


def strangers(values: Sequence[int], change: Change) -> set[int]:
    """Numbers of windows with a register that holds neither what was before nor what is wanted nor 0."""
    return {
        index // WINDOW_REGISTERS
        for index, (address, value) in enumerate(zip(SCHEDULE, values, strict=False))
        if value not in {change.before[address], change.after[address], 0}
    }


def check_acted(acted: Iterable[Acted], change: Change, puts: str) -> None:
    """The inverter never acted on a mixture, but for what another hand or a clamp put there itself."""
    before, after = acting_of(change.before), acting_of(change.after)
    for one in acted:
        if puts == "arming":
            # Whoever arms in the middle of a change lets act what is there just then.
            return
        without: set[int] = set()
        if puts == "values":
            without = strangers(one["windows"], change)
        elif puts == "power":
            without = {0}
        found = acting(one["windows"], armed=one["armed"], without=without)
        if not (found <= before or found <= after):
            raise OutcomeWrong(f"it acted on a mixture: {sorted(found)}")


def check_addresses(requests: Iterable[Entry], register_map: RegisterMap) -> int:
    """Check that every write is to registers that the map names. Return how many writes there were."""
    named = {address for table, address in _writable(register_map) if table is Table.HOLDING}
    count = 0
    for entry in requests:
        if entry["function"] not in {6, 16}:
            continue
        count += 1
        touched = set(range(entry["first"], entry["first"] + entry["count"]))
        if not touched <= named:
            raise OutcomeWrong(f"wrote to {sorted(touched - named)}, which the map does not name")
        if entry["function"] != register_map.line.write_function or entry["count"] > register_map.line.longest_write:
            raise OutcomeWrong(f"wrote {entry['count']} registers with function {entry['function']}")
    return count


def _writable(register_map: RegisterMap) -> set[tuple[Table, int]]:
    found = {address for control in register_map.controls.values() for address in control.point.addresses}
    if register_map.clock is not None:
        found |= set(register_map.clock.point.addresses)
    if register_map.schedule is not None:
        found |= set(register_map.schedule.addresses)
    return found
