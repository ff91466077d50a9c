"""A schedule that the inverter held before, to be put on it again."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Self

from ..core.schedule import Image, image_as_list, image_from_list


class NothingBefore(Exception):
    """There is no schedule to put back: `key` says in which sense."""

    def __init__(self, key: str) -> None:
        """`nothing_before` or `nothing_confirmed`."""
        super().__init__(key)
        self.key = key


@dataclass(frozen=True, kw_only=True, slots=True)
class EarlierSchedule:
    """The registers of a schedule that the inverter held before."""

    image: Image
    shift: int | None
    """Minutes that the inverter's clock was meant to be ahead of the house's then."""

    counts: bool
    """Whether to put it back counts as undoing what another hand changed."""

    def as_dict(self) -> dict[str, Any]:
        """Return the same as JSON data."""
        return {"image": image_as_list(self.image), "shift": self.shift, "counts": self.counts}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Self:
        """Return what `as_dict` was made of."""
        return cls(image=image_from_list(data["image"]), shift=data["shift"], counts=data["counts"])
