"""Modbus: requests to one unit behind a gateway or on a serial port, one at a time, each with its own answer.

Register addresses count from 0, as in the protocol. Every request either returns the answer to it or raises LineError.
"""

from .endpoint import Endpoint, Framing, Parity
from .errors import REASONS, LineError, Lost, Missing, NoAnswer, NoConnection, Refused
from .gateway import Gateway
from .health import LineHealth
from .line import Line, LineCounts
from .line_observer import LineObserver
from .shared_gateways import Gateways

__all__ = [
    "REASONS",
    "Endpoint",
    "Framing",
    "Gateway",
    "Gateways",
    "Line",
    "LineCounts",
    "LineError",
    "LineHealth",
    "LineObserver",
    "Lost",
    "Missing",
    "NoAnswer",
    "NoConnection",
    "Parity",
    "Refused",
]
