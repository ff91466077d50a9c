"""Known readings: what a battery inverter commonly measures, with unit and classes as Home Assistant spells them.

Adding one is adding a row here and its name to translations/en.json.
"""

from dataclasses import dataclass
from types import MappingProxyType

MEASUREMENT = "measurement"
TOTAL = "total"
TOTAL_INCREASING = "total_increasing"


@dataclass(frozen=True, slots=True)
class KnownReading:
    """A row. `positive` is what a positive number means when it is shown; None where there is no direction.

    `diagnostic` readings are listed apart from those that everybody looks at.
    """

    unit: str | None = None
    device_class: str | None = None
    state_class: str | None = None
    positive: str | None = None
    precision: int | None = None
    diagnostic: bool = False


_ENERGY = KnownReading("kWh", "energy", TOTAL_INCREASING, precision=1)
_TODAY = KnownReading("kWh", "energy", TOTAL_INCREASING, precision=2)
_AMPERE_LIMIT = KnownReading("A", "current", MEASUREMENT, precision=1, diagnostic=True)
_CELL = KnownReading("mV", "voltage", MEASUREMENT, precision=0, diagnostic=True)

KNOWN_READINGS = MappingProxyType(
    {
        "battery_level": KnownReading("%", "battery", MEASUREMENT, precision=0),
        "battery_health": KnownReading("%", None, MEASUREMENT, precision=0, diagnostic=True),
        "battery_power": KnownReading("W", "power", MEASUREMENT, "discharging", 0),
        "battery_voltage": KnownReading("V", "voltage", MEASUREMENT, precision=1, diagnostic=True),
        "battery_current": KnownReading("A", "current", MEASUREMENT, "discharging", 1, diagnostic=True),
        "battery_temperature": KnownReading("°C", "temperature", MEASUREMENT, precision=1),
        "battery_energy_charged": _ENERGY,
        "battery_energy_discharged": _ENERGY,
        "battery_energy_charged_today": _TODAY,
        "battery_energy_discharged_today": _TODAY,
        "battery_charge_current_limit": _AMPERE_LIMIT,
        "battery_discharge_current_limit": _AMPERE_LIMIT,
        "battery_cycles": KnownReading(None, None, TOTAL_INCREASING, precision=0, diagnostic=True),
        "cell_voltage_highest": _CELL,
        "cell_voltage_lowest": _CELL,
        "grid_power": KnownReading("W", "power", MEASUREMENT, "importing", 0),
        "grid_voltage": KnownReading("V", "voltage", MEASUREMENT, precision=1, diagnostic=True),
        "grid_current": KnownReading("A", "current", MEASUREMENT, "importing", 2, diagnostic=True),
        "grid_frequency": KnownReading("Hz", "frequency", MEASUREMENT, precision=2, diagnostic=True),
        "grid_energy_imported": _ENERGY,
        "grid_energy_exported": _ENERGY,
        "load_power": KnownReading("W", "power", MEASUREMENT, precision=0),
        "load_energy": _ENERGY,
        "solar_power": KnownReading("W", "power", MEASUREMENT, precision=0),
        "solar_energy": _ENERGY,
        "inverter_temperature": KnownReading("°C", "temperature", MEASUREMENT, precision=1, diagnostic=True),
        "inverter_state": KnownReading(None, "enum"),
        "alarms": KnownReading(None, "problem"),
    }
)

OPPOSITE = MappingProxyType(
    {
        "charging": "discharging",
        "discharging": "charging",
        "importing": "exporting",
        "exporting": "importing",
    }
)
"""What `positive` may say, and what a negative number then means."""

MULTIPLES = MappingProxyType(
    {
        "W": {"W": 0, "kW": 3, "MW": 6, "mW": -3},
        "kWh": {"kWh": 0, "Wh": -3, "MWh": 3},
        "V": {"V": 0, "mV": -3, "kV": 3},
        "mV": {"mV": 0, "V": 3},
        "A": {"A": 0, "mA": -3, "kA": 3},
        "Hz": {"Hz": 0, "mHz": -3, "kHz": 3},
    }
)
"""Units that a quantity may be kept in, as powers of ten of its own unit (SI prefixes)."""

SENSOR_CLASSES = frozenset(
    {
        "absolute_humidity",
        "apparent_power",
        "aqi",
        "area",
        "atmospheric_pressure",
        "battery",
        "blood_glucose_concentration",
        "carbon_dioxide",
        "carbon_monoxide",
        "conductivity",
        "current",
        "data_rate",
        "data_size",
        "distance",
        "duration",
        "energy",
        "energy_distance",
        "energy_storage",
        "enum",
        "frequency",
        "gas",
        "humidity",
        "illuminance",
        "irradiance",
        "moisture",
        "monetary",
        "nitrogen_dioxide",
        "nitrogen_monoxide",
        "nitrous_oxide",
        "ozone",
        "ph",
        "pm1",
        "pm10",
        "pm25",
        "pm4",
        "power",
        "power_factor",
        "precipitation",
        "precipitation_intensity",
        "pressure",
        "radon",
        "reactive_energy",
        "reactive_power",
        "signal_strength",
        "sound_pressure",
        "speed",
        "sulphur_dioxide",
        "temperature",
        "temperature_delta",
        "volatile_organic_compounds",
        "volatile_organic_compounds_parts",
        "voltage",
        "volume",
        "volume_flow_rate",
        "volume_storage",
        "water",
        "weight",
        "wind_direction",
        "wind_speed",
    }
)
"""Device classes that a reading can have (Home Assistant 2026.10), without those of dates: a register holds none."""

BINARY_CLASSES = frozenset(
    {
        "battery",
        "battery_charging",
        "carbon_monoxide",
        "cold",
        "connectivity",
        "door",
        "garage_door",
        "gas",
        "glass_break",
        "heat",
        "light",
        "lock",
        "moisture",
        "motion",
        "moving",
        "occupancy",
        "opening",
        "plug",
        "power",
        "presence",
        "problem",
        "running",
        "safety",
        "smoke",
        "sound",
        "tamper",
        "update",
        "vibration",
        "window",
    }
)
"""Device classes that a reading of flags or of one bit can have (Home Assistant 2026.10)."""
