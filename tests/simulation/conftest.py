"""Nothing here needs Home Assistant."""

import pytest

from .changes import SIZE


@pytest.fixture
def _chargehand_can_be_loaded() -> None:
    """Nothing here needs Home Assistant."""


@pytest.fixture
def declared() -> frozenset[int]:
    """What may be written is for `case` to judge, kind by kind."""
    return frozenset(range(SIZE))
