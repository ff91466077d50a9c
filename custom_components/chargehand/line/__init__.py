"""The line: everything between Chargehand and the inverter (TCP, gateway, RS-485 bus).

Hands out `Line`, which reads and writes registers of one unit; entries on one gateway share its connection.
"""

from .endpoint import Endpoint, Framing, Parity
from .errors import LineError, Lost, NoAnswer, NoConnection, Refused
from .gateway import Gateway
from .health import LineHealth
from .line import Line, LineCounts
from .sharing import Gateways

__all__ = [
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
