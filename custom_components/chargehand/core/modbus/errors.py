"""Errors of the line: only as many kinds as a user can act on."""

from enum import StrEnum

REASONS = {
    1: "function not known",
    2: "address not there",
    3: "value not taken",
    4: "device failure",
    5: "accepted, still working on it",
    6: "busy",
    8: "memory parity error",
    10: "gateway path unavailable",
    11: "gateway target did not answer",
}
"""What a Modbus exception code means (Modbus Application Protocol V1.1b3, section 7)."""


class LineError(Exception):
    """A request failed."""


class Lost(StrEnum):
    """Why there is no connection."""

    CANNOT_CONNECT = "cannot_connect"
    """No TCP connection could be made."""

    DROPPED = "dropped"
    """The connection was accepted and then closed by the other side."""


class NoConnection(LineError):
    """The gateway cannot be reached, or it closed the connection. Whether the unit carried out the request is unknown.

    Its cause is the system's error, where there was one.
    """

    def __init__(self, endpoint: str, lost: Lost, why: str = "") -> None:
        """Initialize the error with its kind, which setup distinguishes, and with the system's own words."""
        super().__init__(f"no connection to {endpoint}")
        self.lost = lost
        self.why = why


class Missing(StrEnum):
    """What came instead of an answer."""

    SILENT = "silent"
    """Nothing that fits the request came in time."""

    LATE = "late"
    """An answer to an earlier request is still due, so that none can be taken for the answer to this one."""

    OTHER = "other"
    """An answer to another request came under this one's id."""

    NOISE = "noise"
    """Bytes without end that are no Modbus answer."""


class NoAnswer(LineError):
    """The request was sent and no answer to it came in time. A write may have been carried out all the same."""

    def __init__(self, text: str, missing: Missing = Missing.SILENT) -> None:
        """Initialize the error with a text for logs, and with what came instead."""
        super().__init__(text)
        self.missing = missing


class Refused(LineError):
    """The inverter or its gateway answered with a Modbus exception. A refused write changed nothing."""

    def __init__(self, code: int) -> None:
        """Initialize the error with its exception code."""
        super().__init__(f"exception {code:02X}: {REASONS.get(code, 'unknown code')}")
        self.code = code

    @property
    def may_have_acted(self) -> bool:
        """Return whether a write may have taken effect: the gateway gave up, or the inverter is still at work."""
        return self.code in {4, 5, 6, 10, 11}

    @property
    def busy(self) -> bool:
        """Return whether the request should be sent again later.

        06 says so itself. 05 says that the unit is still processing the request (Modbus Application Protocol V1.1b3, section 7). The
        registers do not follow by themselves, so a read is repeated after either.
        """
        return self.code in {5, 6}

    @property
    def unit_silent(self) -> bool:
        """Return whether the gateway reports that the unit did not answer it."""
        return self.code == 11

    @property
    def still_at_work(self) -> bool:
        """Return whether the inverter has accepted the request and not finished it."""
        return self.code == 5
