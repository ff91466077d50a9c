"""Unlock and save in a map: what they are once loaded, what may be written for them, and that nothing else reads them."""

from pathlib import Path

from custom_components.chargehand.core.registers import AfterWrite, BeforeWrite, Table, WritesAround

from .samples import SAMPLE, load, problems

AROUND = """\
schedule:
  before_write: [{holding: 0x2F0, write: 0xA5A5, reads: 1, lasts: 60}, {holding: 754, write: 7}]
  after_write: [{holding: 790, write: 1, activates: true}]
"""
WITH_AROUND = SAMPLE.replace("schedule:\n", AROUND)

UNLOCKS = (
    BeforeWrite(register=0x2F0, value=0xA5A5, reads=1, lasts=60),
    BeforeWrite(register=754, value=7),
)
SAVES = (AfterWrite(register=790, value=1, activates=True),)


def test_what_is_written_around_a_change_of_the_schedule(tmp_path: Path) -> None:
    loaded = load(tmp_path, WITH_AROUND)
    assert loaded.schedule is not None
    assert loaded.schedule.around == WritesAround(before=UNLOCKS, after=SAVES)
    assert loaded.schedule.around.activates
    commands = {(Table.HOLDING, at) for at in (0x2F0, 754, 790)}
    assert loaded.writable == load(tmp_path, SAMPLE).writable | commands
    assert not commands & set(loaded.schedule.addresses)
    assert not commands & {address for group in loaded.schedule.groups for address in group}


def test_registers_count_as_the_map_counts_them(tmp_path: Path) -> None:
    text = WITH_AROUND.replace("numbering: from_0", "numbering: from_1")
    schedule = load(tmp_path, text).schedule
    assert schedule is not None
    assert [command.register for command in schedule.around.commands] == [0x2EF, 753, 789]


def test_what_arms_is_one_of_the_schedules_registers(tmp_path: Path) -> None:
    loaded = load(tmp_path, WITH_AROUND)
    assert loaded.schedule is not None
    assert loaded.schedule.armed_by is not None
    assert loaded.controls["timed_charging"] is loaded.schedule.armed_by.control
    assert loaded.controls["timed_charging"].around == loaded.schedule.around
    assert loaded.controls["reserve_level"].around == WritesAround()


def test_a_control_and_the_clock_have_their_own(tmp_path: Path) -> None:
    text = SAMPLE.replace("max: 100, step: 1}", "max: 100, step: 1, after_write: [{holding: 790, write: 2}]}").replace(
        "keeps: local}", "keeps: local, before_write: [{holding: 0x2F0, write: 0xA5A5}]}"
    )
    loaded = load(tmp_path, text)
    assert loaded.controls["reserve_level"].around.after == (AfterWrite(register=790, value=2),)
    assert not loaded.controls["reserve_level"].around.activates
    assert loaded.clock is not None
    assert loaded.clock.around.before == (BeforeWrite(register=0x2F0, value=0xA5A5),)


def test_one_register_may_be_written_around_several_changes(tmp_path: Path) -> None:
    saves = "after_write: [{holding: 790, write: 1}]"
    text = WITH_AROUND.replace("keeps: local}", f"keeps: local, {saves}}}")
    assert problems(tmp_path, text) == ()
    assert problems(tmp_path, text.replace("holding: 790, write: 1}]}", "holding: 790, write: 2}]}")) == ()


def test_a_command_may_stand_where_nothing_may_be_read_unless_it_is_read_to_prove_it(tmp_path: Path) -> None:
    barred = "  no_read: [{table: holding, from: %d, to: %d}]\n"
    assert problems(tmp_path, WITH_AROUND.replace("identity:\n", barred % (790, 790) + "identity:\n")) == ()
    (problem,) = problems(tmp_path, WITH_AROUND.replace("identity:\n", barred % (0x2F0, 0x2F0) + "identity:\n"))
    assert "752 is needed for schedule.before_write[0]" in problem.reason


def test_a_reading_may_show_what_a_command_register_reads(tmp_path: Path) -> None:
    locked = "readings:\n  lock: {holding: 0x2F0, name: Lock}\n"
    assert problems(tmp_path, WITH_AROUND.replace("readings:\n", locked)) == ()


def test_a_control_that_arms_cannot_be_written_otherwise_than_the_schedule(tmp_path: Path) -> None:
    own = "  timed_charging: {holding: 150, bit: 0, after_write: [{holding: 790, write: 2}]}"
    (problem,) = problems(tmp_path, WITH_AROUND.replace("  timed_charging: {holding: 150, bit: 0}", own))
    assert problem.key == "schedule.armed_by.control"
    assert "timed_charging arms the schedule" in problem.reason
    same = own.replace("after_write: [{holding: 790, write: 2}]", AROUND.split("\n")[2].strip())
    same = same.replace("bit: 0", f"bit: 0, {AROUND.split('\n')[1].strip()}")
    assert problems(tmp_path, WITH_AROUND.replace("  timed_charging: {holding: 150, bit: 0}", same)) == ()
