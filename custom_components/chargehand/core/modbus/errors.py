"""What can go wrong on the line, as few kinds as a user can act on."""

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
    """A request did not bring what was asked for."""


class Lost(StrEnum):
    """Why there is no connection."""

    CANNOT_CONNECT = "cannot_connect"
    """No TCP connection could be made."""

    DROPPED = "dropped"
    """The connection was accepted and then closed by the other side."""


class NoConnection(LineError):
    """The gateway cannot be reached, or it closed the connection. The request was not carried out, or it is unknown."""

    def __init__(self, endpoint: str, lost: Lost, why: str = "") -> None:
        """Keep which of the two it was, which setup tells apart, and what the system says of it."""
        super().__init__(f"no connection to {endpoint}")
        self.lost = lost
        self.why = why


class NoAnswer(LineError):
    """The request was sent and nothing came back in time. A write may have been carried out all the same."""


class Refused(LineError):
    """The inverter or its gateway answered with a Modbus exception. A refused write changed nothing."""

    def __init__(self, code: int) -> None:
        """Keep the code and say it in words."""
        super().__init__(f"exception {code:02X}: {REASONS.get(code, 'unknown code')}")
        self.code = code

    @property
    def may_have_acted(self) -> bool:
        """Whether a write answered so could have been carried out: the gateway gave up, or the inverter is still at it."""
        return self.code in {4, 5, 6, 10, 11}

    @property
    def busy(self) -> bool:
        """Whether the unit asks to be asked again later.

        06 says so itself. 05 says that the request is being worked on (Modbus Application Protocol V1.1b3, section 7); what was read does
        not follow by itself, so a read is repeated after either.
        """
        return self.code in {5, 6}

    @property
    def unit_silent(self) -> bool:
        """Whether it is the gateway that says so, of a unit that did not answer it."""
        return self.code == 11

    @property
    def still_at_work(self) -> bool:
        """Whether the inverter says that it has taken the request and is not done with it."""
        return self.code == 5
