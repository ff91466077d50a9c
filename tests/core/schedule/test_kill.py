"""A process that is killed at any point of a commit: the next start knows what is there, and half of it is put back."""

from collections import Counter
from collections.abc import Awaitable, Callable, Iterator

import pytest

from custom_components.chargehand.core.registers import RegisterMap

from .case_bench import CaseBenches
from .changes import Change, changes_on
from .outcome_checks import OutcomeWrong, same
from .run_together import run_all
from .scene import Scene
from .variants import VARIANTS

pytestmark = pytest.mark.usefixtures("socket_enabled")

LANES = 6
"""How many processes go on at a time."""

STEP = 7
"""Of the points while putting back every seventh is tried: each is tried after every point of the commit."""

RUNS = 5

LONGEST = 1000
"""Points that no commit has."""

ENDED = "ended"
"""The process was not killed: it has no such point."""

type RunToPoint = Callable[[Scene, int], Awaitable[str]]
type RecordProperty = Callable[[str, object], None]


def kinds(*names: str) -> pytest.MarkDecorator:
    """The kinds of change of these names on every map, or all."""
    return pytest.mark.parametrize(
        ("variant", "change"),
        [
            pytest.param(variant, change, id=f"{variant}-{change.name}")
            for variant in VARIANTS
            for change in changes_on(variant)
            if not names or change.name in names
        ],
    )


def at_every_point(
    benches: CaseBenches, change: Change, register_map: RegisterMap, path: str, run_to: RunToPoint
) -> Counter[str]:
    """Run with the kill at point 1, 2, 3 … until there is no such point. Return how often each end came."""
    ends = Counter[str]()

    async def lane(points: Iterator[int]) -> None:
        async with benches.take() as bench:
            scene = Scene(change, register_map, path, bench, await bench.process_client())
            for point in points:
                try:
                    end = await run_to(scene, point)
                except OutcomeWrong as fault:
                    raise OutcomeWrong(f"{register_map.id} {change.name}, killed at point {point}: {fault}") from fault
                ends[end] += 1
                if end == ENDED:
                    return

    points = iter(range(1, LONGEST))
    benches.loop.run_until_complete(run_all(lane(points) for _ in range(LANES)))
    print(register_map.id, change.name, dict(ends))
    assert ends[ENDED], "there was no end of points"
    return ends


@kinds()
def test_killed_at_any_point_the_next_start_finds_all_or_puts_back(
    benches: CaseBenches,
    variants: dict[str, RegisterMap],
    map_paths: dict[str, str],
    variant: str,
    change: Change,
    record_property: RecordProperty,
) -> None:
    async def killed(scene: Scene, point: int) -> str:
        for _ in range(RUNS):
            await scene.begin()
            end = await scene.send(point)
            found = await scene.recover()
            # Where the machine is too slow to answer within 100 ms nothing was begun, and the point not reached.
            if (end, found) not in {("NoConnection", "no journal"), ("NoAnswer", "no journal")}:
                break
        if end == "killed":
            return found
        if (end, found) != ("confirmed", "no journal") or not same(await scene.bench.memory(), change.after):
            raise OutcomeWrong(f"it was not killed, and ended {end} with {found}")
        return ENDED

    ends = at_every_point(benches, change, variants[variant], map_paths[variant], killed)
    record_property("cases: killed", ends.total())
    assert ends["before"]
    assert ends["after"]
    assert ends["no journal"]


@kinds("charge_windows", "six_windows")
def test_changed_by_somebody_after_the_kill_nothing_is_touched(
    benches: CaseBenches,
    variants: dict[str, RegisterMap],
    map_paths: dict[str, str],
    variant: str,
    change: Change,
    record_property: RecordProperty,
) -> None:
    async def killed(scene: Scene, point: int) -> str:
        await scene.begin()
        end = await scene.send(point)
        return ENDED if end != "killed" else await scene.recover(foreign=True)

    ends = at_every_point(benches, change, variants[variant], map_paths[variant], killed)
    record_property("cases: killed, then changed elsewhere", ends.total())
    assert set(ends) == {"foreign", "no journal", ENDED}


@kinds("charge_windows", "six_windows", "six_and_arm")
def test_killed_again_while_putting_back_the_start_after_that_ends_it(
    benches: CaseBenches,
    variants: dict[str, RegisterMap],
    map_paths: dict[str, str],
    variant: str,
    change: Change,
    record_property: RecordProperty,
) -> None:
    twice = Counter[str]()

    async def killed(scene: Scene, point: int) -> str:
        for again in range(1, LONGEST, STEP):
            await scene.begin()
            if await scene.send(point) != "killed":
                return ENDED
            if scene.journal.read() is None:
                return "no journal"
            settled = await scene.send(again, settle=True)
            twice[await scene.recover()] += 1
            if settled != "killed":
                return settled
        raise OutcomeWrong("there was no end of points")

    at_every_point(benches, change, variants[variant], map_paths[variant], killed)
    print(dict(twice))
    record_property("cases: killed twice", twice.total())
    assert twice
