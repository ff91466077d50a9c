"""A kind of inverter as the register map that a user would write for it."""

import yaml

from .kinds import MODES, Kind, Lock, Save, Slot

TURNED_ON = "Windows act"
MODE_NAMES = {0: "waits", 1: "follows", 2: "by_windows", 4: "feeds", 5: "rests"}


def map_text(kind: Kind) -> str:
    """Return the map's YAML."""
    data: dict[str, object] = {
        "chargehand_map": 1,
        "title": kind.name,
        "maker": "None",
        "model": "S",
        "source": "tests/simulation/kinds.py, invented",
        "line": {
            "write_function": kind.function,
            "longest_write": kind.longest_write,
            "timeout_ms": kind.timeout_ms,
            "settle_ms": kind.settle_ms,
            "mask_write": kind.mask_write,
        },
        "readings": {"battery_level": {"holding": 30, "unit": "%"}},
        "schedule": {
            "crosses_midnight": kind.crosses,
            "latest_end": kind.latest_end,
            "charge": _side(kind, kind.charge),
            "discharge": _side(kind, kind.discharge),
        },
    }
    schedule = data["schedule"]
    assert isinstance(schedule, dict)
    if kind.whole:
        for side in ("charge", "discharge"):
            schedule[side]["written_whole"] = True
    if kind.lock is not None:
        schedule["before_write"] = [_unlock(kind.lock)]
    if kind.save is not None:
        schedule["after_write"] = [_save(kind.save)]
    if not kind.discharge:
        del schedule["discharge"]
    if kind.ahead:
        data["clock"] = {"holding": 200, "layout": "six_registers", "keeps": "utc"}
    if kind.arming is not None:
        low, high = kind.arming.bits
        point: dict[str, object] = {"holding": kind.arming.address, "name": TURNED_ON}
        if kind.arming.is_switch:
            two = {"on": kind.arming.on, "off": kind.arming.others[0]}
            point |= two if kind.arming.is_two_values else {"bit": low}
        else:
            point |= {"labels": {value: MODE_NAMES[value] for value in (kind.arming.on, *kind.arming.others)}}
            if (low, high) != (0, 15):
                point |= {"bits": [low, high]}
        data["controls"] = {"windows_act": point}
        value = True if kind.arming.is_switch else MODE_NAMES[kind.arming.on]
        schedule["armed_by"] = {"control": "windows_act", "value": value}
    return yaml.safe_dump(data, sort_keys=False)


def _side(kind: Kind, slots: tuple[Slot, ...]) -> dict[str, object]:
    windows = [_window(slot) for slot in slots]
    if not slots or not kind.shares(slots[0]):
        return {"windows": windows}
    limits = {"power", "stop_level"}
    shared = {name: value for name, value in windows[0].items() if name in limits}
    rest = [{name: value for name, value in window.items() if name not in limits} for window in windows]
    return {"windows": rest, "shared": shared}


def _unlock(lock: Lock) -> dict[str, object]:
    lasts = {} if lock.lasts_ms is None else {"lasts": lock.lasts_ms // 1000}
    return {"holding": lock.address, "write": lock.key} | ({"reads": 1} if lock.told else {}) | lasts


def _save(save: Save) -> dict[str, object]:
    told = {"reads": 2} if save.told else {}
    return {"holding": save.address, "write": save.value, "activates": save.activates} | told


def _window(slot: Slot) -> dict[str, object]:
    power = {"holding": slot.power, "scale": slot.scale, "unit": "W", "min": slot.least, "max": slot.most}
    window: dict[str, object] = {
        "start": {"holding": slot.start, "layout": slot.layout},
        "duration" if slot.lasts else "end": {"holding": slot.end, "layout": slot.layout},
        "power": power,
    }
    if slot.unused is not None:
        for name in ("start", "end"):
            window[name] = {"holding": getattr(slot, name), "layout": slot.layout, "unused": slot.unused}
    if slot.level is not None:
        window["stop_level"] = {"holding": slot.level, "unit": "%", "min": 10, "max": 100}
    if slot.mode is not None:
        window["mode"] = {"holding": slot.mode, **MODES}
    if slot.active is not None:
        window["active"] = {"holding": slot.active[0], "bit": slot.active[1]}
    return window
