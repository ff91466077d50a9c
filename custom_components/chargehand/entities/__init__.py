"""What several platforms share, and triggers that belong to no entity."""

from .battery_room_trigger import BatteryRoomTrigger
from .calculated_energy import CalculatedEnergy, calculations
from .cheap_hours import CheapHoursApproach, CheapHoursEnded, CheapHoursStarted
from .foreign_change_trigger import ForeignChangeTrigger
from .inverter_trigger import InverterTrigger
from .line_sensor_descriptions import LINE_SENSORS
from .own_sensor_descriptions import OWN_SENSORS
from .own_sensors import OwnSensor
from .targets import ON_BINARY_SENSOR, ON_EVENT, ON_SENSOR, OfOneKey
from .window_entities import window_entities

__all__ = [
    "LINE_SENSORS",
    "ON_BINARY_SENSOR",
    "ON_EVENT",
    "ON_SENSOR",
    "OWN_SENSORS",
    "BatteryRoomTrigger",
    "CalculatedEnergy",
    "CheapHoursApproach",
    "CheapHoursEnded",
    "CheapHoursStarted",
    "ForeignChangeTrigger",
    "InverterTrigger",
    "OfOneKey",
    "OwnSensor",
    "calculations",
    "window_entities",
]
