"""Registers that are written around a change: an unlock before it, a save after it. They command something and hold no setting."""

from dataclasses import dataclass

from .points import Address, Table


@dataclass(frozen=True, kw_only=True, slots=True)
class CommandWrite:
    """A value to write into one holding register, and what reading it gives once that took."""

    register: int
    value: int
    reads: int | None = None
    """None: reading the register says nothing of it."""

    @property
    def address(self) -> Address:
        """The register that it writes."""
        return Table.HOLDING, self.register


@dataclass(frozen=True, kw_only=True, slots=True)
class BeforeWrite(CommandWrite):
    """A write that has to come before a change, such as an unlock."""

    lasts: float | None = None
    """Seconds until it lapses; None: not by time."""


@dataclass(frozen=True, kw_only=True, slots=True)
class AfterWrite(CommandWrite):
    """A write that has to come after a change, such as a save."""

    activates: bool = False
    """Whether nothing that was written acts before it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class WritesAround:
    """What has to be written around a change, each in its order."""

    before: tuple[BeforeWrite, ...] = ()
    after: tuple[AfterWrite, ...] = ()

    @property
    def activates(self) -> bool:
        """Whether nothing that was written acts before the writes after it."""
        return any(write.activates for write in self.after)

    @property
    def commands(self) -> tuple[CommandWrite, ...]:
        """All of them."""
        return (*self.before, *self.after)
