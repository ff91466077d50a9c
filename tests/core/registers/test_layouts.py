"""Times of day and clocks in registers. A clock's time is naive: it is in the clock's own keeping."""

# ruff: noqa: DTZ001

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from custom_components.chargehand.core.registers import ClockPoint, Table, TimePoint, ValueRefused
from custom_components.chargehand.core.registers.register_map.clock_layouts import CLOCK_LAYOUTS
from custom_components.chargehand.core.registers.register_map.layouts import TIME_LAYOUTS


def time_point(layout: str) -> TimePoint:
    return TimePoint(table=Table.HOLDING, first=740, layout=layout)


def clock_point(layout: str, **more: int | bool) -> ClockPoint:
    return ClockPoint(first=706, layout=layout, **more)  # type: ignore[arg-type]


def at(first: int, *registers: int) -> dict[tuple[Table, int], int]:
    return {(Table.HOLDING, first + index): register for index, register in enumerate(registers)}


@pytest.mark.parametrize(
    ("layout", "registers"),
    [
        # Worked by hand; the layouts are common practice, no source.
        ("hour_minute", (23, 40)),
        ("packed", (0x1728,)),
        ("hhmm", (2340,)),
        ("bcd", (0x2340,)),
        ("minutes", (1420,)),
    ],
)
def test_twenty_to_midnight(layout: str, registers: tuple[int, ...]) -> None:
    assert time_point(layout).decode(at(740, *registers)) == 23 * 60 + 40
    assert time_point(layout).encode(23 * 60 + 40) == at(740, *registers)


@given(hour=st.integers(0, 23), minute=st.integers(0, 59))
def test_bcd_reads_in_hexadecimal_as_people_read_it(hour: int, minute: int) -> None:
    assert time_point("bcd").encode(hour * 60 + minute) == at(740, int(f"{hour:02}{minute:02}", 16))


@pytest.mark.parametrize("layout", TIME_LAYOUTS)
@given(minute=st.integers(0, 1440))
def test_every_minute_of_the_day_survives(layout: str, minute: int) -> None:
    point = time_point(layout)
    assert point.decode(point.encode(minute)) == minute
    assert set(point.encode(minute)) == set(point.addresses)


@pytest.mark.parametrize("layout", TIME_LAYOUTS)
@given(registers=st.tuples(st.integers(0, 65535), st.integers(0, 65535)))
def test_any_register_is_a_minute_or_no_time(layout: str, registers: tuple[int, int]) -> None:
    point = time_point(layout)
    decoded = point.decode(at(740, *registers))
    assert decoded is None or 0 <= decoded <= 1440
    if decoded is not None:
        assert point.encode(decoded).items() <= at(740, *registers).items()


@pytest.mark.parametrize(
    ("layout", "registers"),
    [
        ("hour_minute", (23, 60)),
        ("hour_minute", (24, 1)),
        ("packed", (0xFFFF,)),
        ("hhmm", (2360,)),
        ("bcd", (0x1A00,)),
        ("minutes", (1441,)),
    ],
)
def test_nonsense_is_no_time(layout: str, registers: tuple[int, ...]) -> None:
    assert time_point(layout).decode(at(740, *registers)) is None
    assert time_point(layout).decode({}) is None


@pytest.mark.parametrize("minute", [-1, 1441])
def test_no_minute_of_a_day_is_refused(minute: int) -> None:
    with pytest.raises(ValueError, match="no minute of a day"):
        time_point("packed").encode(minute)


WHEN = datetime(2026, 11, 25, 23, 40, 7)


@pytest.mark.parametrize(
    ("layout", "registers"),
    [
        ("six_registers", (26, 11, 25, 23, 40, 7)),
        ("three_bytes", (0x1A0B, 0x1917, 0x2807)),
        # BCD: the decimal digits are those of the hexadecimal number (common practice, no source).
        ("six_registers_bcd", (0x26, 0x11, 0x25, 0x23, 0x40, 0x07)),
        ("seconds_first", (7, 40, 23, 25, 11, 26)),
        ("seconds_first_bcd", (0x07, 0x40, 0x23, 0x25, 0x11, 0x26)),
        # 25 November 2026 is a Wednesday: the third day from Monday, which is 0 here.
        ("seconds_first_weekday", (7, 40, 23, 2, 25, 11, 26)),
        ("seconds_first_weekday_bcd", (0x07, 0x40, 0x23, 0x02, 0x25, 0x11, 0x26)),
        # 2026-11-25 23:40:07 counted by the standard library from 1970, as Unix time is (POSIX.1-2017, 4.16).
        ("unix", divmod(int((WHEN - datetime(1970, 1, 1)).total_seconds()), 65536)),
    ],
)
def test_a_clock_as_its_layout_has_it(layout: str, registers: tuple[int, ...]) -> None:
    assert clock_point(layout).decode(at(706, *registers)) == WHEN
    assert clock_point(layout).encode(WHEN) == at(706, *registers)


@pytest.mark.parametrize(
    ("weekdays", "numbers"),
    # From Monday 23 to Sunday 29 November 2026.
    [
        ("monday_0", (0, 1, 2, 3, 4, 5, 6)),
        ("monday_1", (1, 2, 3, 4, 5, 6, 7)),
        ("sunday_0", (1, 2, 3, 4, 5, 6, 0)),
        ("sunday_1", (2, 3, 4, 5, 6, 7, 1)),
    ],
)
def test_a_weekday_is_counted_as_the_document_does(weekdays: str, numbers: tuple[int, ...]) -> None:
    point = ClockPoint(first=706, layout="seconds_first_weekday_bcd", weekdays=weekdays)
    for day, number in zip(range(23, 30), numbers, strict=True):
        assert point.encode(datetime(2026, 11, day))[Table.HOLDING, 709] == number


def test_a_weekday_that_was_never_set_does_not_spoil_the_time() -> None:
    held = at(706, 0x07, 0x40, 0x23, 0xFFFF, 0x25, 0x11, 0x26)
    assert clock_point("seconds_first_weekday_bcd").decode(held) == WHEN


def test_what_has_other_digits_is_no_bcd() -> None:
    assert clock_point("seconds_first_bcd").decode(at(706, 0x0A, 0x40, 0x23, 0x25, 0x11, 0x26)) is None


def test_unix_clock_follows_the_word_order() -> None:
    assert clock_point("unix", low_first=True).decode(at(706, 1, 0)) == datetime(1970, 1, 1, 0, 0, 1)
    assert clock_point("unix", low_first=True).encode(datetime(1970, 1, 1, 0, 0, 1)) == at(706, 1, 0)


@pytest.mark.parametrize("layout", CLOCK_LAYOUTS)
@given(when=st.datetimes(datetime(2000, 1, 1), datetime(2099, 12, 31)))
def test_every_second_survives(layout: str, when: datetime) -> None:
    point = clock_point(layout)
    assert point.decode(point.encode(when)) == when.replace(microsecond=0)


@pytest.mark.parametrize("layout", CLOCK_LAYOUTS)
@pytest.mark.parametrize("base", [0, 2000, 2100])
@given(registers=st.lists(st.integers(0, 65535), min_size=7, max_size=7))
def test_any_registers_are_a_time_or_none(layout: str, base: int, registers: list[int]) -> None:
    decoded = clock_point(layout, year_base=base).decode(at(706, *registers))
    assert decoded is None or decoded.tzinfo is None


def test_a_year_base_of_zero_keeps_the_whole_year() -> None:
    assert clock_point("six_registers", year_base=0).encode(WHEN) == at(706, 2026, 11, 25, 23, 40, 7)
    assert clock_point("six_registers_bcd", year_base=0).encode(WHEN) == at(706, 0x2026, 0x11, 0x25, 0x23, 0x40, 0x07)


@pytest.mark.parametrize(
    ("layout", "when"),
    [
        ("six_registers", datetime(1999, 12, 31)),
        ("six_registers_bcd", datetime(1999, 12, 31)),
        ("seconds_first_weekday_bcd", datetime(2100, 1, 1)),
        ("three_bytes", datetime(2256, 1, 1)),
        ("unix", datetime(1969, 12, 31)),
        ("unix", datetime(1970, 1, 1) + timedelta(seconds=2**32)),
    ],
)
def test_a_year_that_does_not_fit_is_refused(layout: str, when: datetime) -> None:
    with pytest.raises(ValueRefused, match="clock_year"):
        clock_point(layout).encode(when)


def test_unix_knows_no_time_zone_of_this_machine() -> None:
    (high, low) = divmod(int(datetime(2026, 7, 1, 12, tzinfo=UTC).timestamp()), 65536)
    assert clock_point("unix").decode(at(706, high, low)) == datetime(2026, 7, 1, 12)
