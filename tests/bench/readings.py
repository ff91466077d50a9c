"""Everything that the inverter measures, in SI units, at one moment."""

from dataclasses import dataclass


@dataclass(kw_only=True, slots=True)
class Totals:
    """Energies since the inverter was built, in Wh; today's since its clock's midnight."""

    charged: float = 4_182_300.0
    discharged: float = 3_931_400.0
    charged_today: float = 0.0
    discharged_today: float = 0.0
    imported: float = 9_275_600.0
    exported: float = 1_148_900.0
    load: float = 11_903_200.0
    solar: float = 4_027_500.0
    running_seconds: float = 9_417 * 3600.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Readings:
    """W, V, A, degC, %, Hz, Wh; battery positive while charging, grid positive while importing."""

    serial: str
    level: float
    battery_w: float
    battery_v: float
    battery_a: float
    battery_celsius: float
    battery_sensor: bool
    """Whether the sensor of the battery's temperature works; only some makes show that it does not."""
    cycles: float
    charge_limit: float
    discharge_limit: float
    state: int
    alarms: int
    inverter_celsius: float
    grid_w: float
    grid_v: float
    grid_hz: float
    load_w: float
    solar_w: float
    workshop_a: float
    insulation_ohm: float
    link_v: float
    fan_rpm: float
    roof_v: float
    backup_v: float
    totals: Totals

    @property
    def string_1_w(self) -> int:
        """Roof string 1; string 2 gives the rest."""
        return round(0.55 * self.solar_w)

    @property
    def string_2_w(self) -> int:
        """Roof string 2 in W."""
        return round(self.solar_w) - self.string_1_w
