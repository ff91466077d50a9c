"""A draft without an inverter: what an edit makes of a window, what is refused, and what stays as the inverter has it."""

import json
from dataclasses import replace
from typing import Any

import pytest

from custom_components.chargehand.core.reasons import Reason
from custom_components.chargehand.core.registers import SchedulePoints
from custom_components.chargehand.core.schedule import (
    Draft,
    Place,
    Rejected,
    Schedule,
    ScheduleRequest,
    Side,
    Window,
    WindowRequest,
    place_of,
    reasons_against,
)
from tests.core.schedule.test_request import held, in_amperes, points, unused  # noqa: F401

FIRST: Place = (Side.CHARGE, 1)
SECOND: Place = (Side.CHARGE, 2)
EVENING: Place = (Side.DISCHARGE, 1)


def edited(points: SchedulePoints, held: Schedule, place: Place, *edits: dict[str, float | bool]) -> Draft:  # noqa: F811
    draft = Draft(base=held)
    for settings in edits:
        draft = draft.edited(points, held, place, settings)
    return draft


def window(draft: Draft, held: Schedule, place: Place) -> Window:  # noqa: F811
    return draft.upon(held).side(place[0])[place[1] - 1]


def refused(points: SchedulePoints, held: Schedule, place: Place, **settings: float | bool) -> list[str]:  # noqa: F811
    with pytest.raises(Rejected) as rejected:
        Draft(base=held).edited(points, held, place, settings)
    return [reason.key for reason in rejected.value.reasons]


def test_edits_add_up_and_the_other_windows_are_the_inverters(points: SchedulePoints, held: Schedule) -> None:  # noqa: F811
    draft = edited(points, held, FIRST, {"start": 60}, {"end": 300}, {"power": 3000.0})
    assert window(draft, held, FIRST) == Window(start=60, end=300, power=3000.0, stop_level=100.0)
    theirs = Window(start=400, end=500, power=700.0, stop_level=50.0)
    meanwhile = held.with_window(*SECOND, theirs)
    assert window(draft, meanwhile, SECOND) == theirs
    assert draft.upon(replace(meanwhile, armed=False)).armed is False, "arming is no part of it"


def test_another_hand_is_noticed_and_arming_is_none(points: SchedulePoints, held: Schedule) -> None:  # noqa: F811
    draft = edited(points, held, FIRST, {"power": 3000.0})
    assert draft.beneath(replace(held, armed=False)) == ()
    changed = held.with_window(*FIRST, replace(held.charge[0], stop_level=50.0))
    assert [change.what for change in draft.beneath(changed)] == ["charge_window_1_stop_level"]


def test_an_edit_that_is_taken_back_leaves_nothing(points: SchedulePoints, held: Schedule) -> None:  # noqa: F811
    assert edited(points, held, FIRST, {"start": 60}, {"start": 1360}).windows == {}
    assert edited(points, held, FIRST, {"active": False}, {"active": True}).windows == {}
    assert edited(points, held, FIRST, {"power": 2000.3}).windows == {}, "the register takes whole watts"


@pytest.mark.parametrize(
    ("settings", "key"),
    [
        ({"start": 140}, "nothing_left"),
        ({"end": 1360}, "nothing_left"),
        ({"power": 5001.0}, "out_of_range"),
        ({"power": -1.0}, "out_of_range"),
        ({"stop_level": 9.0}, "out_of_range"),
        ({"power": float("nan")}, "not_a_number"),
    ],
)
def test_what_no_window_can_be_is_refused_with_the_reason(
    points: SchedulePoints,  # noqa: F811
    held: Schedule,  # noqa: F811
    settings: dict[str, float | bool],
    key: str,
) -> None:
    assert refused(points, held, FIRST, **settings) == [key]


def test_times_are_on_the_maps_steps_by_the_inverters_clock(in_amperes: SchedulePoints, unused: Schedule) -> None:  # noqa: F811
    """The Burdock takes steps of five minutes."""
    held = unused.with_window(*FIRST, Window(start=60, end=300, current=40.0, stop_level=90.0))  # noqa: F811
    assert refused(in_amperes, held, FIRST, start=62) == ["not_on_step"]
    held = held.with_window(*FIRST, replace(held.charge[0], end=302))
    assert Draft(base=held).edited(in_amperes, held, FIRST, {"start": 62}, shift=3).windows[FIRST].start == 62


def test_windows_that_overlap_may_stand_in_a_draft(points: SchedulePoints, held: Schedule) -> None:  # noqa: F811
    draft = edited(points, held, EVENING, {"start": 1200}, {"end": 60})
    assert window(draft, held, EVENING).overlaps(window(draft, held, FIRST))


@pytest.mark.parametrize(
    ("place", "settings", "times", "level"),
    [
        (SECOND, {"start": 600}, (600, 1360), 100.0),
        (SECOND, {"end": 600}, (140, 600), 100.0),
        # The longest time without a window begins at 02:20.
        (SECOND, {"active": True}, (140, 200), 100.0),
        (EVENING, {"active": True}, (140, 200), 10.0),
    ],
)
def test_an_unused_window_that_is_used_has_times_and_limits(
    points: SchedulePoints,  # noqa: F811
    held: Schedule,  # noqa: F811
    place: Place,
    settings: dict[str, float | bool],
    times: tuple[int, int],
    level: float,
) -> None:
    found = window(edited(points, held, place, settings), held, place)
    assert found == Window(start=times[0], end=times[1], power=5000.0, stop_level=level)


def test_a_limit_that_was_typed_into_an_unused_window_is_kept_when_it_is_used(
    points: SchedulePoints,  # noqa: F811
    held: Schedule,  # noqa: F811
) -> None:
    draft = edited(points, held, SECOND, {"power": 1234.0})
    assert SECOND in draft.windows
    assert not window(draft, held, SECOND).used
    used = draft.edited(points, held, SECOND, {"active": True})
    assert window(used, held, SECOND).power == 1234.0


def test_a_day_without_room_has_none_for_another_window(points: SchedulePoints, held: Schedule) -> None:  # noqa: F811
    full = held.with_window(*FIRST, replace(held.charge[0], start=0, end=1440))
    assert refused(points, full, SECOND, active=True) == ["day_is_full"]
    nearly = held.with_window(*FIRST, replace(held.charge[0], start=0, end=1430))
    assert window(edited(points, nearly, SECOND, {"active": True}), nearly, SECOND).start == 1430


def test_off_takes_the_times_away_unless_the_map_has_a_bit_for_it(
    points: SchedulePoints,  # noqa: F811
    held: Schedule,  # noqa: F811
    in_amperes: SchedulePoints,  # noqa: F811
    unused: Schedule,  # noqa: F811
) -> None:
    off = window(edited(points, held, FIRST, {"active": False}), held, FIRST)
    assert (off.start, off.end, off.active) == (0, 0, True)
    evening = Window(start=1020, end=1140, power=1000.0, stop_level=30.0)
    used = unused.with_window(*EVENING, evening)
    assert window(edited(in_amperes, used, EVENING, {"active": False}), used, EVENING) == replace(evening, active=False)


def test_what_is_on_the_inverter_by_now_is_no_part_of_the_rest(points: SchedulePoints, held: Schedule) -> None:  # noqa: F811
    draft = edited(points, held, FIRST, {"start": 60}).edited(points, held, SECOND, {"active": True})
    now = held.with_window(*FIRST, draft.windows[FIRST])
    rest = draft.since(now)
    assert rest.windows.keys() == {SECOND}
    assert rest.beneath(now) == ()


def test_it_is_the_same_after_a_restart_and_nonsense_is_not_taken(points: SchedulePoints, held: Schedule) -> None:  # noqa: F811
    draft = edited(points, held, FIRST, {"start": 60}, {"power": 700.0})
    data = json.loads(json.dumps(draft.as_dict()))
    assert Draft.from_dict(data) == draft
    assert draft.fits(points)
    assert not draft.fits(replace(points, charge=points.charge[:1]))
    data["windows"][0]["number"] = 9
    with pytest.raises(ValueError, match="among those"):
        Draft.from_dict(data)


# ---- whole sides at once


def laid_out(points: SchedulePoints, held: Schedule, draft: Draft | None = None, **sides: Any) -> Draft:  # noqa: F811
    request = ScheduleRequest(**{side: [WindowRequest(**one) for one in asked] for side, asked in sides.items()})
    return (draft or Draft(base=held)).laid_out(points, held, request)[0]


WHOLE = {"start": "01:00", "end": "05:00", "power": 3000, "stop_level": 95}


def test_a_side_is_laid_out_and_the_other_stays_as_drafted(points: SchedulePoints, held: Schedule) -> None:  # noqa: F811
    draft = edited(points, held, EVENING, {"start": 1020, "end": 1140}, {"power": 900.0})
    both = laid_out(points, held, draft, charge=[WHOLE])
    assert both.windows[EVENING] == draft.windows[EVENING]
    assert window(both, held, FIRST) == Window(start=60, end=300, power=3000.0, stop_level=95.0)
    assert both.windows.keys() == {FIRST, EVENING}, "windows that are unused before and after are no part of it"
    assert laid_out(points, held, both, discharge=[]).windows.keys() == {FIRST}


def test_a_window_that_is_not_listed_is_taken_off(points: SchedulePoints, held: Schedule) -> None:  # noqa: F811
    draft = laid_out(points, held, charge=[])
    assert draft.windows == {FIRST: held.charge[0].unused()}
    assert not draft.upon(held).charge[0].used


def test_a_bit_that_is_set_on_an_unused_window_makes_no_draft(in_amperes: SchedulePoints, unused: Schedule) -> None:  # noqa: F811
    on = unused.with_window(*EVENING, replace(unused.discharge[0], active=True))
    assert not on.discharge[0].used
    assert laid_out(in_amperes, on, discharge=[]).windows == {}


def test_what_another_hand_changed_on_a_side_that_is_left_out_stays(points: SchedulePoints, held: Schedule) -> None:  # noqa: F811
    draft = laid_out(points, held, charge=[WHOLE])
    theirs = held.with_window(*EVENING, Window(start=1020, end=1140, power=700.0, stop_level=20.0))
    assert draft.upon(theirs).discharge == theirs.discharge
    assert draft.beneath(theirs) != ()


def test_a_reason_names_the_window_that_it_is_about(points: SchedulePoints, held: Schedule) -> None:  # noqa: F811
    places = {
        "charge_window_2_stop_level": (Side.CHARGE, 2),
        "discharge_window_1": (Side.DISCHARGE, 1),
        "armed": None,
        "charge": None,
    }
    for what, place in places.items():
        assert place_of(Reason(key="out_of_range", values={"what": what})) == place
    assert place_of(Reason(key="cannot_disarm")) is None
    against = [
        reasons_against(points, held, laid_out(points, held, **sides).upon(held))
        for sides in (
            {"discharge": [{**WHOLE, "start": "02:00"}]},
            {"charge": [WHOLE, {**WHOLE, "start": "04:00", "end": "06:00"}]},
        )
    ]
    (overlap,), second = against
    assert place_of(overlap) == EVENING, "the one that was changed, not the one that stood there"
    assert [place_of(one) for one in second] == [FIRST], "of two new ones the first"
