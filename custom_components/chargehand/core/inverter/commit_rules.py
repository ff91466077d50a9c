"""What a commit may write, by which stages and how patiently, as one register map has it."""

from collections.abc import Collection

from ..registers import Address, Clock, Control, RegisterMap, WritesAround
from ..schedule import (
    CommitRules,
    FrameRules,
    Masks,
    Patience,
    Stages,
    bits_of,
    inactive_stages,
    masks_of,
    one_frame_stages,
    schedule_stages,
)
from .supported import schedule_points


class MapCommitRules:
    """Makes the commit rules for an inverter's schedule and for its controls."""

    def __init__(self, register_map: RegisterMap) -> None:
        """Set up the rules of a register map."""
        self._map = register_map
        self.patience = Patience(settle=register_map.line.settle_ms / 1000)
        """How long commits wait for a write to show."""

        self._schedule: tuple[FrameRules, Stages] | None = None
        """Those of the schedule, kept because every commit needs them."""

    def for_schedule(self) -> CommitRules:
        """Return the rules of a commit of the whole schedule. Raises NotSupported."""
        if self._schedule is None:
            points = schedule_points(self._map)
            rules = self.for_frames(points.addresses, masks_of(points), points.wholes)
            self._schedule = rules, inactive_stages if points.around.activates else schedule_stages(points, rules)
        return self._with_patience(*self._schedule, schedule_points(self._map).around)

    def for_control(self, control: Control) -> CommitRules:
        """Return the rules of a commit of one control, which is written in one request unless it acts only once that is asked for."""
        rules = self.for_frames(control.point.addresses, bits_of([control.point]))
        stages = inactive_stages if control.around.activates else one_frame_stages(rules)
        return self._with_patience(rules, stages, control.around)

    def for_clock(self, clock: Clock) -> CommitRules:
        """Return the rules of setting the clock, which goes on by itself and so has no stages."""
        rules = self.for_frames(clock.point.addresses)
        return self._with_patience(rules, inactive_stages, clock.around)

    def for_frames(
        self, named: Collection[Address], masks: Masks | None = None, wholes: Collection[range] = ()
    ) -> FrameRules:
        """Return the rules of write requests to the `named` registers, of which `masks` limits shared ones to some bits.

        `wholes` are stretches of them that are only taken whole.
        """
        line = self._map.line
        longest = 1 if line.write_function == 6 else line.longest_write
        return FrameRules(
            named=frozenset(named), longest=longest, masks=masks or {}, by_mask=line.mask_write, wholes=wholes
        )

    def _with_patience(self, frames: FrameRules, stages: Stages, around: WritesAround) -> CommitRules:
        return CommitRules(frames=frames, stages=stages, patience=self.patience, around=around)
