"""Modbus: requests to one unit behind a gateway or on a serial port, one at a time, each with its own answer.

Registers are addressed as the protocol does, from 0. Every request either returns what was asked for or raises a LineError.
"""

from .endpoint import Endpoint, Framing, Parity
from .errors import REASONS, LineError, Lost, NoAnswer, NoConnection, Refused
from .gateway import Gateway
from .health import LineHealth
from .line import Line, LineCounts
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
    "Lost",
    "NoAnswer",
    "NoConnection",
    "Parity",
    "Refused",
]
