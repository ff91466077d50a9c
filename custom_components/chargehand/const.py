"""Names that more than one file needs."""

from homeassistant.const import Platform

DOMAIN = "chargehand"

PLATFORMS = [
    Platform.BINARY_SENSOR,
    Platform.BUTTON,
    Platform.CALENDAR,
    Platform.EVENT,
    Platform.NUMBER,
    Platform.SELECT,
    Platform.SENSOR,
    Platform.SWITCH,
    Platform.TIME,
]

EVENT_CLOCK = "chargehand_clock"
"""Fired on Home Assistant's bus when an inverter's clock was set; the logbook shows it in words."""

EVENT_SCHEDULE = "chargehand_schedule"
"""Fired on Home Assistant's bus when something has happened to a schedule; the logbook shows it in words."""

EVENT_ORDER = "chargehand_order"
"""Fired on Home Assistant's bus when an order still waits after some tries, and when one that waited has ended."""

CONF_FRAMING = "framing"
CONF_BAUD = "baud"
CONF_PARITY = "parity"
CONF_STOP_BITS = "stop_bits"
CONF_UNIT = "unit"
CONF_REGISTER_MAP = "register_map"
CONF_MAP_FILE = "map_file"
CONF_LINE = "line"
"""How to speak to an inverter that has no map yet: a map's `line`, and a register to look for."""

CONF_NUMBERING = "numbering"
CONF_LONGEST_READ = "longest_read"
CONF_PAUSE_MS = "pause_ms"
CONF_TIMEOUT_MS = "timeout_ms"
CONF_TEST_TABLE = "test_table"
CONF_TEST_REGISTER = "test_register"
CONF_ALLOW_CONTROL = "allow_control"
CONF_SET_CLOCK_SECONDS = "set_clock_seconds"
"""How far the inverter's clock may be off before it is set; 0: it is left alone."""

CONF_FAST_SECONDS = "fast_seconds"
CONF_SLOW_SECONDS = "slow_seconds"
CONF_EDITS = "edits"
CONF_EDITS_SECONDS = "edits_seconds"

BY_BUTTON = "by_button"
AFTER_PAUSE = "after_pause"
"""When edits of windows are applied."""

DEFAULT_BAUD = 9600
DEFAULT_PORT = 502
DEFAULT_FAST_SECONDS = 5
DEFAULT_SLOW_SECONDS = 60
DEFAULT_EDITS_SECONDS = 20
