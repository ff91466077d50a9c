"""The logger port: the maker's data logger asks Chargehand instead of the inverter, so that the line has one master.

A server takes its frames; a gate keeps what it asks and writes apart from changes of Chargehand's own, and answers from memory where it may.
"""

from .logger_gate import LoggerGate, LoggerWrite
from .port_counts import PortCounts
from .port_rules import PortRules, host_address
from .port_server import PortServer

__all__ = ["LoggerGate", "LoggerWrite", "PortCounts", "PortRules", "PortServer", "host_address"]
