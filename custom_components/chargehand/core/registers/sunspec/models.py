"""What Chargehand reads of the SunSpec information models: a row a point (SunSpec Device Information Model definitions).

Readings only. The models' set points (124 and 702 among them) are never written: they are no schedule, how long they hold and
what they do to one is each maker's own, and a write that cannot be judged by what is read back is not Chargehand's to make.

Directions. Model 701 says that positive is generation. For an inverter (101-103, 111-113) a positive AC power is taken as the
same, delivered by the inverter. For a meter (201-204, 211-214) positive is taken as imported: the definitions count reactive energy
as imported in quadrants 1 and 2, where reactive power is positive. For the battery (802) the power's own sign is left aside, since
its definition names no direction: the charge status `ChaSt` tells it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from ..register_map import MEASUREMENT, TOTAL_INCREASING, Poll

COMMON = 1
METERS = frozenset({201, 202, 203, 204, 211, 212, 213, 214})

_WHOLE = (101, 102, 103)
_FLOAT = (111, 112, 113)
_METER = (201, 202, 203, 204)
_FLOAT_METER = (211, 212, 213, 214)


@dataclass(frozen=True, slots=True)
class PointType:
    """How a point of one of the standard's types is kept; `absent` are the raw values that mean "not implemented"."""

    type: str
    absent: tuple[int, ...] = ()


POINT_TYPES = MappingProxyType(
    {
        "int16": PointType("s16", (0x8000,)),
        "uint16": PointType("u16", (0xFFFF,)),
        "enum16": PointType("u16", (0xFFFF,)),
        "uint32": PointType("u32", (0xFFFFFFFF,)),
        # An accumulator that has counted nothing and one that is not there look the same.
        "acc32": PointType("u32", (0,)),
        "uint64": PointType("u64", (0xFFFFFFFFFFFFFFFF,)),
        # With the highest bit set the others mean nothing (from memory); only the two plain forms can be recognized here.
        "bitfield32": PointType("u32", (0xFFFFFFFF, 0x80000000)),
        # Not a number is no value whatever a float is for.
        "float32": PointType("f32"),
        "string": PointType("text"),
    }
)


@dataclass(frozen=True, slots=True)
class Row:
    """A point of some models and the reading that it is. Offsets count registers from the model's id, which is 0.

    `scale` is the name and offset of the point's scale factor, `unit` the standard's unit as the catalogue spells it.
    """

    models: tuple[int, ...]
    point: str
    offset: int
    type: str
    key: str
    scale: tuple[str, int] | None = None
    unit: str | None = None
    poll: Poll = Poll.FAST


@dataclass(frozen=True, slots=True)
class Named:
    """A reading that the catalogue does not have: the name that is shown, and its classes."""

    name: str
    unit: str | None = None
    device_class: str | None = None
    state_class: str | None = None
    diagnostic: bool = False


OWN_READINGS = MappingProxyType(
    {
        "inverter_power": Named("Inverter power", "W", "power", MEASUREMENT),
        "inverter_energy": Named("Inverter energy delivered", "Wh", "energy", TOTAL_INCREASING),
        "inverter_energy_absorbed": Named("Inverter energy absorbed", "Wh", "energy", TOTAL_INCREASING),
        "inverter_dc_power": Named("Inverter DC power", "W", "power", MEASUREMENT),
        "inverter_dc_voltage": Named("Inverter DC voltage", "V", "voltage", MEASUREMENT, diagnostic=True),
        "storage_power": Named("Battery power as counted", "W", "power", MEASUREMENT),
        "storage_current": Named("Battery current as counted", "A", "current", MEASUREMENT, diagnostic=True),
        "battery_state": Named("Battery state", None, "enum"),
        "battery_alarms": Named("Battery alarms", None, "problem"),
        "battery_capacity": Named("Battery capacity", "Wh", "energy_storage", MEASUREMENT, diagnostic=True),
        "battery_energy_left": Named("Energy left in the battery", "Wh", "energy_storage", MEASUREMENT),
        "inverter_rating": Named("Inverter rating", "W", "power", diagnostic=True),
        "battery_charge_rating": Named("Battery charge rating", "W", "power", diagnostic=True),
        "battery_discharge_rating": Named("Battery discharge rating", "W", "power", diagnostic=True),
    }
)

_STATES = ("off", "sleeping", "starting", "mppt", "throttled", "shutting_down", "fault", "standby")
_STORAGE_STATES = ("off", "empty", "discharging", "charging", "full", "holding", "testing")

LABELS: Mapping[tuple[int, str], Mapping[int, str]] = MappingProxyType(
    {
        **{(model, "St"): dict(enumerate(_STATES, start=1)) for model in (*_WHOLE, *_FLOAT)},
        (701, "InvSt"): {number: "running" if text == "mppt" else text for number, text in enumerate(_STATES)},
        **{(model, "ChaSt"): dict(enumerate(_STORAGE_STATES, start=1)) for model in (124, 802)},
    }
)
"""What the numbers of a point mean, by model and point."""

_EVENTS = (
    "Ground fault",
    "DC over volt",
    "AC disconnect",
    "DC disconnect",
    "Grid disconnect",
    "Cabinet open",
    "Manual shutdown",
    "Over temp",
    "Over frequency",
    "Under frequency",
    "AC over volt",
    "AC under volt",
    "Blown string fuse",
    "Under temp",
    "Memory loss",
    "HW test failure",
)
_BATTERY_EVENTS = MappingProxyType(
    {
        0: "Communication error",
        1: "Over temp alarm",
        3: "Under temp alarm",
        5: "Over charge current alarm",
        7: "Over discharge current alarm",
        9: "Over volt alarm",
        11: "Under volt alarm",
        13: "Under SoC min alarm",
        15: "Over SoC max alarm",
        18: "Temperature imbalance alarm",
        20: "Contactor error",
        21: "Fan error",
        22: "Ground fault",
        23: "Open door error",
        25: "Other alarm",
        28: "Configuration alarm",
    }
)
"""The alarms and errors of 802; its warnings are no alarms yet and are left out."""

FLAGS: Mapping[tuple[int, str], Mapping[int, str]] = MappingProxyType(
    {
        **{(model, "Evt1"): dict(enumerate(_EVENTS)) for model in (*_WHOLE, *_FLOAT)},
        (701, "Alrm"): dict(enumerate((*_EVENTS, "Manufacturer alrm"))),
        (802, "Evt1"): _BATTERY_EVENTS,
    }
)
"""What the bits of a point mean, by model and point."""

IDENTITY_ROWS = (
    Row((COMMON,), "Mn", 2, "string", "maker"),
    Row((COMMON,), "Md", 18, "string", "model"),
    Row((COMMON,), "Vr", 42, "string", "firmware"),
    Row((COMMON,), "SN", 50, "string", "serial_number"),
)
"""Who made it and which one it is."""

STRING_LENGTHS = MappingProxyType({"maker": 16, "model": 16, "firmware": 8, "serial_number": 16})
"""Registers of the identity's texts."""

READING_ROWS = (
    # An inverter that has both generations of models has each quantity twice: the row that stands first is taken.
    Row(_WHOLE, "W", 14, "int16", "inverter_power", ("W_SF", 15), "W"),
    Row(_WHOLE, "PhVphA", 10, "uint16", "grid_voltage", ("V_SF", 13), "V"),
    Row(_WHOLE, "Hz", 16, "uint16", "grid_frequency", ("Hz_SF", 17), "Hz"),
    Row(_WHOLE, "WH", 24, "acc32", "inverter_energy", ("WH_SF", 26), "Wh"),
    # Behind the DC terminals may be panels, a battery or both: this is not certain to be `solar_power`.
    Row(_WHOLE, "DCW", 31, "int16", "inverter_dc_power", ("DCW_SF", 32), "W"),
    Row(_WHOLE, "DCV", 29, "uint16", "inverter_dc_voltage", ("DCV_SF", 30), "V"),
    Row(_WHOLE, "TmpCab", 33, "int16", "inverter_temperature", ("Tmp_SF", 37), "°C"),
    Row(_WHOLE, "St", 38, "enum16", "inverter_state"),
    Row(_WHOLE, "Evt1", 40, "bitfield32", "alarms"),
    Row(_FLOAT, "W", 22, "float32", "inverter_power", None, "W"),
    Row(_FLOAT, "PhVphA", 16, "float32", "grid_voltage", None, "V"),
    Row(_FLOAT, "Hz", 24, "float32", "grid_frequency", None, "Hz"),
    Row(_FLOAT, "WH", 32, "float32", "inverter_energy", None, "Wh"),
    Row(_FLOAT, "DCW", 38, "float32", "inverter_dc_power", None, "W"),
    Row(_FLOAT, "DCV", 36, "float32", "inverter_dc_voltage", None, "V"),
    Row(_FLOAT, "TmpCab", 40, "float32", "inverter_temperature", None, "°C"),
    Row(_FLOAT, "St", 48, "enum16", "inverter_state"),
    Row(_FLOAT, "Evt1", 50, "bitfield32", "alarms"),
    Row((701,), "W", 10, "int16", "inverter_power", ("W_SF", 116), "W"),
    Row((701,), "LNV", 16, "uint16", "grid_voltage", ("V_SF", 114), "V"),
    Row((701,), "Hz", 17, "uint32", "grid_frequency", ("Hz_SF", 115), "Hz"),
    Row((701,), "TotWhInj", 19, "uint64", "inverter_energy", ("TotWh_SF", 120), "Wh"),
    Row((701,), "TotWhAbs", 23, "uint64", "inverter_energy_absorbed", ("TotWh_SF", 120), "Wh"),
    Row((701,), "TmpCab", 36, "int16", "inverter_temperature", ("Tmp_SF", 122), "°C"),
    Row((701,), "InvSt", 4, "enum16", "inverter_state"),
    Row((701,), "Alrm", 6, "bitfield32", "alarms"),
    Row(_METER, "W", 18, "int16", "grid_power", ("W_SF", 22), "W"),
    Row(_METER, "PhVphA", 8, "int16", "grid_voltage", ("V_SF", 15), "V"),
    Row(_METER, "Hz", 16, "int16", "grid_frequency", ("Hz_SF", 17), "Hz"),
    Row(_METER, "TotWhImp", 46, "acc32", "grid_energy_imported", ("TotWh_SF", 54), "Wh"),
    Row(_METER, "TotWhExp", 38, "acc32", "grid_energy_exported", ("TotWh_SF", 54), "Wh"),
    Row(_FLOAT_METER, "W", 28, "float32", "grid_power", None, "W"),
    Row(_FLOAT_METER, "PhVphA", 12, "float32", "grid_voltage", None, "V"),
    Row(_FLOAT_METER, "Hz", 26, "float32", "grid_frequency", None, "Hz"),
    Row(_FLOAT_METER, "TotWhImp", 68, "float32", "grid_energy_imported", None, "Wh"),
    Row(_FLOAT_METER, "TotWhExp", 60, "float32", "grid_energy_exported", None, "Wh"),
    Row((802,), "SoC", 11, "uint16", "battery_level", ("SoC_SF", 56), "%"),
    Row((802,), "SoH", 13, "uint16", "battery_health", ("SoH_SF", 58), "%"),
    Row((802,), "NCyc", 14, "uint32", "battery_cycles", poll=Poll.SLOW),
    Row((802,), "ChaSt", 16, "enum16", "battery_state"),
    Row((802,), "Evt1", 26, "bitfield32", "battery_alarms"),
    Row((802,), "V", 34, "uint16", "battery_voltage", ("V_SF", 59), "V"),
    Row((802,), "CellVMax", 37, "uint16", "cell_voltage_highest", ("CellV_SF", 60), "V"),
    Row((802,), "CellVMin", 40, "uint16", "cell_voltage_lowest", ("CellV_SF", 60), "V"),
    Row((802,), "A", 44, "int16", "storage_current", ("A_SF", 61), "A"),
    Row((802,), "W", 47, "int16", "storage_power", ("W_SF", 63), "W"),
    Row((802,), "AChaMax", 45, "uint16", "battery_charge_current_limit", ("AMax_SF", 62), "A"),
    Row((802,), "ADisChaMax", 46, "uint16", "battery_discharge_current_limit", ("AMax_SF", 62), "A"),
    Row((802,), "WHRtg", 3, "uint16", "battery_capacity", ("WHRtg_SF", 53), "Wh", Poll.SLOW),
    Row((802,), "WChaRteMax", 4, "uint16", "battery_charge_rating", ("WChaDisChaMax_SF", 54), "W", Poll.SLOW),
    Row((802,), "WDisChaRteMax", 5, "uint16", "battery_discharge_rating", ("WChaDisChaMax_SF", 54), "W", Poll.SLOW),
    Row((713,), "SoC", 4, "uint16", "battery_level", ("Pct_SF", 8), "%"),
    Row((713,), "SoH", 5, "uint16", "battery_health", ("Pct_SF", 8), "%"),
    Row((713,), "WHRtg", 2, "uint16", "battery_capacity", ("WH_SF", 7), "Wh", Poll.SLOW),
    Row((713,), "WHAvail", 3, "uint16", "battery_energy_left", ("WH_SF", 7), "Wh"),
    Row((124,), "ChaState", 8, "uint16", "battery_level", ("ChaState_SF", 22), "%"),
    Row((124,), "InBatV", 10, "uint16", "battery_voltage", ("InBatV_SF", 24), "V"),
    Row((124,), "ChaSt", 11, "enum16", "battery_state"),
    Row((702,), "WMaxRtg", 2, "uint16", "inverter_rating", ("W_SF", 45), "W", Poll.SLOW),
    Row((702,), "WChaRteMaxRtg", 10, "uint16", "battery_charge_rating", ("W_SF", 45), "W", Poll.SLOW),
    Row((702,), "WDisChaRteMaxRtg", 11, "uint16", "battery_discharge_rating", ("W_SF", 45), "W", Poll.SLOW),
    Row((120,), "WRtg", 3, "uint16", "inverter_rating", ("WRtg_SF", 4), "W", Poll.SLOW),
    Row((120,), "WHRtg", 19, "uint16", "battery_capacity", ("WHRtg_SF", 20), "Wh", Poll.SLOW),
    Row((120,), "MaxChaRte", 23, "uint16", "battery_charge_rating", ("MaxChaRte_SF", 24), "W", Poll.SLOW),
    Row((120,), "MaxDisChaRte", 25, "uint16", "battery_discharge_rating", ("MaxDisChaRte_SF", 26), "W", Poll.SLOW),
)
"""Readings in the order of preference: of the rows of one key, the first whose model the inverter has."""
