"""What the options of an entry make of the port's rules."""

from typing import Any

import pytest

from custom_components.chargehand.data_logger.port_options import port_rules

SETTLED = {"port": 5020, "hosts": ["192.0.2.7"], "framing": "tcp", "writes": "pass"}


@pytest.mark.parametrize(
    ("fresh_seconds", "polls", "taken"),
    [(2, {}, 1.0), (2, {"fast_seconds": 2}, 0.4), (2, {"fast_seconds": 60}, 2.0), (0, {"fast_seconds": 60}, 0.0)],
)
def test_a_poll_takes_what_is_a_fifth_of_the_interval_old_and_no_older_than_settled(
    fresh_seconds: int, polls: dict[str, Any], taken: float
) -> None:
    """Polls come every 5 s unless the options have it otherwise."""
    rules = port_rules({"data_logger": SETTLED | {"fresh_seconds": fresh_seconds}, **polls})
    assert rules is not None
    assert rules.taken_seconds == pytest.approx(taken)
