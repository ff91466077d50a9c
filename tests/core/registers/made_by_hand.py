"""The invented documents, by hand: which registers they list, what these hold at one moment, and what a user should then see.

Texts and floats are packed by `struct`, never by Chargehand. Registers are numbered as each document numbers them.
"""

import struct
from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class MadeByHand:
    """One document: its map, what it counts from, its registers at one moment, and what is seen then."""

    map: str
    serial: str
    base: int
    inputs: Mapping[int, int]
    holdings: Mapping[int, int]
    shown: Mapping[str, object]
    listed_inputs: frozenset[int]
    listed_holdings: frozenset[int]


def text(first: int, characters: str, order: str = ">") -> dict[int, int]:
    """Two characters a register; `<` has the low byte first."""
    octets = characters.encode("ascii")
    return {first + at: value for at, value in enumerate(struct.unpack(f"{order}{len(octets) // 2}H", octets))}


def floats(values: Mapping[int, float]) -> dict[int, int]:
    """IEEE 754 singles, high word first."""
    words = ((first, struct.unpack(">2H", struct.pack(">f", value))) for first, value in values.items())
    return {first + at: word for first, both in words for at, word in enumerate(both)}


LARKFEN = MadeByHand(
    map="larkfen_lf5",
    serial="LF5H-26-00000042",
    base=1,
    inputs={
        1: 0x0C5A,
        **text(2, "LF5H-26-00000042"),
        311: 2,
        340: 57,
        341: 98,
        342: 5123,  # 0.1 V
        343: 0x10000 - 125,  # 0.1 A, + is discharge
        344: 0xFFFF,  # -32 in 0.1 kW: 3.2 kW of charging
        345: 0x10000 - 32,
        346: 0x10000 - 15,  # -1.5 °C
        347: 1000,
        348: 1200,
        361: 0,
        362: 1850,  # sold
        371: 0,
        372: 2400,
        373: 1,
        374: 4,  # 65540 W
        381: 2,
        391: 10,  # 2 × 65536 + 10 in 0.1 kWh
        382: 0,
        392: 45231,
        401: 1 << 9 >> 16,
        402: 1 << 9,  # word 1: too hot
        403: 0,
        404: 1 << 3,  # word 2: sensor lost
    },
    holdings={710: 1 << 1 | 1 << 5},  # feed-in limit and buzzer
    shown={
        "inverter_state": "on_grid",
        "battery_level": 57,
        "battery_health": 98,
        "battery_voltage": 512.3,
        "battery_current": -12.5,
        "battery_power": -3200,
        "battery_temperature": -1.5,
        "battery_charge_current_limit": 100.0,
        "battery_discharge_current_limit": 120.0,
        "grid_power": -1850,
        "solar_power": 2400 + 65540,
        "roof_1_power": 2400,
        "roof_2_power": 65540,
        "solar_energy": 13108.2,
        "load_energy": 4523.1,
        "feed_in_limit": True,
        "alarms": ("Too hot", "Sensor lost"),
    },
    listed_inputs=frozenset(
        {1, *range(2, 10), 311, *range(340, 349), 361, 362, *range(371, 375), 381, 382, 391, 392, *range(401, 405)}
    ),
    listed_holdings=frozenset({701, 702, 703, 710, *range(720, 730), 790}),
)

PEBBLEMOOR = MadeByHand(
    map="pebblemoor_pm8",
    serial="PM8-AB-0000000042",
    base=0,
    inputs={
        **text(0, "PM8-AB-0000000042\0\0\0", "<"),
        0x10: 8,
        0x20: 1500,
        0x21: 1,
        0x22: 5210,  # 10 mV
        0x23: 635,  # 1/10 %
        0x24: 65,  # 25 °C
        0x26: 0x10000 - 500,  # -500 W, low word first
        0x27: 0xFFFF,
        0x28: 1,  # high word first: 65536 + 20, in 100 Wh
        0x29: 20,
        0x2A: 20,  # low word first: the same
        0x2B: 1,
        0x30: 0x00A2,  # reason 10, state 2
    },
    holdings={0x100: 8000},
    shown={
        "battery_power": -1500,
        "battery_voltage": 52.1,
        "battery_level": 63.5,
        "battery_temperature": 25,
        "grid_power": -500,
        "battery_energy_charged": 6555.6,
        "battery_energy_discharged": 6555.6,
        "inverter_state": "running",
        "state_reason": 10,
        "rated_charge_power": 8000,
    },
    listed_inputs=frozenset({*range(0x0A), 0x10, *range(0x20, 0x25), *range(0x26, 0x2C), 0x30}),
    listed_holdings=frozenset({0x100, *range(0x200, 0x207), 0x2F0, 0x2F1, *range(0x300, 0x324)}),
)

OXWHISTLE = MadeByHand(
    map="oxwhistle_ow4",
    serial="OW4-2611-7",
    base=1,
    inputs={},
    holdings={
        **text(11, "OW4-2611-7"),
        31: 2,
        35: 1 << 0,  # bit 1 of the document: the lowest 16 bits stand first
        36: 0,
        37: 0,
        38: 1 << 15,  # bit 64 of the document
        401: 1250,
        402: 5180,
        403: 44,
        404: 0x10000 - 900,
        405: 0x10000 - 1737,
        411: 1200,
        412: 34,
        421: 300,
        422: 0x10000 - 100,
        423: 50,
        431: 5,  # 3 × 65536 + 5 in 0.1 kWh
        432: 3,
        871: 25,
    },
    shown={
        "inverter_state": "running",
        "battery_temperature": 25.0,
        "battery_voltage": 51.8,
        "battery_level": 44,
        "battery_power": -900,
        "battery_current": -17.37,
        "solar_power": 1234,
        "roof_1_power": 1200,
        "roof_2_power": 34,
        "grid_power": 250,
        "grid_power_l1": 300,
        "grid_power_l2": -100,
        "grid_power_l3": 50,
        "grid_energy_imported": 19661.3,
        "alarms": ("Fault 1", "Fault 64"),
    },
    listed_inputs=frozenset(),
    listed_holdings=frozenset(
        {
            *range(11, 16),
            31,
            *range(35, 39),
            *range(401, 406),
            411,
            412,
            421,
            422,
            423,
            431,
            432,
            820,
            821,
            822,
            830,
            *range(831, 837),
            *range(841, 847),
            *range(851, 857),
            *range(861, 867),
            871,
        }
    ),
)

DUNMARROW = MadeByHand(
    map="dunmarrow_dr10",
    # The document has none; the entry is known by this one.
    serial="DR10",
    base=0,
    inputs={
        **floats(
            {
                1000: 63.5,
                1002: 384.25,
                1004: -6.5,  # charge positive: this discharges
                1006: 2500.0,  # charge negative: so does this
                1008: 12.25,
                1010: 11.5,
                1020: 10000.0,
                1022: 9500.0,
            }
        ),
        1012: 4,
        1013: 1 << 3 | 1 << 7,
    },
    holdings={2000: 1, 2002: 0xFFFF, 2003: 0x10000 - 3000, 2004: 95, 2005: 10},
    shown={
        "battery_level": 63.5,
        "battery_voltage": 384.25,
        "battery_current": 6.5,
        "battery_power": 2500,
        "battery_energy_charged": 12250,
        "battery_energy_discharged": 11500,
        "inverter_state": "discharging",
        "alarms": ("Temperature", "No heartbeat from the energy management"),
        "charge_power_limit": 10000,
        "discharge_power_limit": 9500,
        "control_source": "Energy management",
        "power_set_point": -3000,
        "highest_level": 95,
        "lowest_level": 10,
    },
    listed_inputs=frozenset({*range(1000, 1014), *range(1020, 1024)}),
    listed_holdings=frozenset({*range(2000, 2006)}),
)

DOCUMENTS = (LARKFEN, PEBBLEMOOR, OXWHISTLE, DUNMARROW)
