"""Which of the 28 features of four invented register documents Chargehand knows, each by a check on the bench's inverter of that document.

`python -m tests.benchmarks.documents [--only N]`. The last line is `N of 28`. Maps are the bundled ones; a feature counts when all its
checks pass: the line to the inverter, what is read, what the inverter holds and acts on afterwards, by values worked by hand.
"""

import argparse
import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass

from . import document_commands as command
from . import document_readings as read
from . import document_windows as window
from .table import show

_LONGEST_REASON = 110
type Check = Callable[[], Awaitable[None]]


@dataclass(frozen=True, slots=True)
class Feature:
    """One feature: what a document has, and the checks that all have to pass."""

    title: str
    checks: tuple[Check, ...]


FEATURES = (
    Feature("numbers counted from 1; five digits as they stand are an error", (read.numbers_from_1,)),
    Feature("signed 32 bit in 0.1 kW, + discharging", (read.signed_32_bit_in_tenths_of_kw,)),
    Feature("input registers mirrored among the holding ones", (read.either_table_serves,)),
    Feature("time in one register, hour in the high byte", (window.hour_in_the_high_byte,)),
    Feature("holes that answer 02, not listed", (read.holes_of_the_larkfen, read.holes_of_the_pebblemoor)),
    Feature("enable bits of windows in one word with foreign bits", (window.bits_beside_foreign_ones,)),
    Feature("an unused window marked 0xFFFF", (window.unused_is_ffff,)),
    Feature("one limit and one stop level for all windows of a kind", (window.one_limit_for_all,)),
    Feature("a limit in % of rated power", (window.limit_in_percent,)),
    Feature(
        "a save command; what is not saved does not act",
        (
            command.saved_or_not_confirmed,
            command.controls_and_the_clock_are_saved,
            command.a_lost_answer_to_the_save_is_no_doubt,
        ),
    ),
    Feature(
        "a reading that is the sum of others", (read.sum_of_the_larkfens_strings, read.sum_of_the_oxwhistles_phases)
    ),
    Feature("high and low word apart", (read.words_apart,)),
    Feature("a value that is sometimes none", (read.sometimes_none,)),
    Feature("temperature with an offset", (read.offset_of_the_pebblemoor, read.offset_of_the_oxwhistle)),
    Feature("absolute value and a register that tells its direction", (read.direction_in_a_register,)),
    Feature("state in some bits of a word", (read.state_in_some_bits,)),
    Feature("text with the low byte first", (read.text_with_its_low_byte_first,)),
    Feature("word order that differs between values", (read.word_order_that_differs,)),
    Feature("clock in BCD, seconds first, with the weekday", (read.clock_in_bcd_with_the_weekday,)),
    Feature("an unlock register that locks itself again", (command.unlocked_before_each_change,)),
    Feature("enabled and disabled by two magic values", (window.two_magic_values,)),
    Feature("slots whose mode says charge, discharge or hold", (window.mode_of_a_slot,)),
    Feature("weekdays of a slot", (window.weekdays_of_a_slot,)),
    Feature("a duration instead of an end", (window.duration_instead_of_an_end,)),
    Feature("a slot written whole; all else one register at a time", (window.slots_whole_all_else_single,)),
    Feature("a list of times, each part until the next", (window.list_of_times,)),
    Feature("fault bits counted from 1 in a 64-bit word", (read.fault_bits_from_1,)),
    Feature("power, level and grid charge for each part of the day", (window.limits_of_each_part,)),
)


async def why_not(feature: Feature) -> str:
    """Return why a feature does not count; nothing when it does."""
    for check in feature.checks:
        try:
            await check()
        except Exception as wrong:  # noqa: BLE001 - whatever stops a check is why its feature is a no
            words = " ".join(f"{type(wrong).__name__}: {wrong}".split())
            return f"{check.__name__}: {words}"[:_LONGEST_REASON]
    return ""


async def run(only: int | None) -> None:
    """Check, and print."""
    chosen = [number for number in range(1, len(FEATURES) + 1) if only in {None, number}]
    reasons = {number: await why_not(FEATURES[number - 1]) for number in chosen}
    rows = [[number, FEATURES[number - 1].title, "no" if why else "yes", why] for number, why in reasons.items()]
    show("Features of the documents", ("#", "feature", "known", "why not"), rows)
    print(f"{sum(not why for why in reasons.values())} of {len(chosen)}")


def main() -> None:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", type=int, choices=range(1, len(FEATURES) + 1), metavar="N", help="this feature alone")
    asyncio.run(run(parser.parse_args().only))


if __name__ == "__main__":
    main()
