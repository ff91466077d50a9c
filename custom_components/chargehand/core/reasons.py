"""Why something cannot be done, or was not done."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Self


@dataclass(frozen=True, kw_only=True, slots=True)
class Reason:
    """The key of a text, and the values that go into it. `messages` has the texts."""

    key: str
    values: Mapping[str, str] = field(default_factory=dict, hash=False)
    about: str | None = None
    """What it is about, as a key, where its text names more than one; None: its value `what`, if it has one."""

    @classmethod
    def of(cls, key: str, **values: object) -> Self:
        """Return a reason with its values as text."""
        return cls(key=key, values={name: str(value) for name, value in values.items()})

    def __str__(self) -> str:
        """Return key and values, for logs."""
        return f"{self.key} {dict(self.values)}" if self.values else self.key
