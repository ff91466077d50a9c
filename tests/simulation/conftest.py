"""Nothing here needs Home Assistant."""

import pytest

from .changes import SIZE


@pytest.fixture
def _chargehand_can_be_loaded() -> None:
    """Need no Home Assistant here."""


@pytest.fixture
def declared() -> frozenset[int]:
    """Leave what may be written to `case`, which judges it kind by kind."""
    return frozenset(range(SIZE))
