"""Images of SunSpec devices as pysunspec2 (the SunSpec Alliance's own library) writes them down."""

import random
import struct
from collections.abc import Iterable

from sunspec2 import device, mb

MARKER = (0x5375, 0x6E53)
END = (0xFFFF, 0)

UNITS = {"W", "V", "Hz", "Wh", "A", "C"}


def registers_of(octets: bytes) -> list[int]:
    """Registers of a string of bytes."""
    return list(struct.unpack(f">{len(octets) // 2}H", octets))


def common(
    maker: str = "Teasel", model: str = "S5", serial: str = "S5-AM-2611-0042", version: str = "1.4"
) -> device.Model:
    """The common model of the invented device."""
    made = device.Model(1)
    for name, value in {"Mn": maker, "Md": model, "SN": serial, "Vr": version}.items():
        made.points[name].value = value
    made.points["DA"].value = 1
    return made


def model_of(model_id: int, **values: float | str) -> device.Model:
    """A model of which only these points are implemented."""
    made = device.Model(model_id)
    for name, value in values.items():
        made.points[name].value = value
    return made


def image_of(models: Iterable[device.Model], *, end: Iterable[int] = END) -> list[int]:
    """Registers from the marker on: the chain of these models, each with its id and length."""
    found = [*MARKER]
    for made in models:
        octets = made.get_mb()
        body = registers_of(octets)[2:]
        found += [made.model_id, len(body), *body]
    return [*found, *end]


def random_model(model_id: int, chance: random.Random) -> device.Model:
    """A model with values of the whole range of their types; about one point in four is not implemented."""
    made = device.Model(model_id)
    for name, point in made.points.items():
        if name in {"ID", "L", "Pad"}:
            continue
        kind = point.pdef["type"]
        if chance.random() < 0.25:
            point.value = None
        elif kind == "sunssf":
            point.value = chance.randint(-10, 10)
        elif kind == "float32":
            point.value = struct.unpack(">f", struct.pack(">f", chance.uniform(-1e6, 1e6)))[0]
        elif kind == "string":
            letters = chance.choices("ABCdef 0123-.", k=chance.randint(1, 2 * int(point.len)))
            point.value = "".join(letters).strip() or "x"
        else:
            size = 16 * int(point.len)
            signed = kind.startswith("int")
            edge = (1 << (size - 1)) - 1 if signed else (1 << size) - 1
            low = -edge if signed else 0
            point.value = chance.choice([low, edge, 0, 1, chance.randint(low, edge)])
            # Bits above this one are not for events; with the highest set nothing of it means anything.
            if kind == "bitfield32":
                point.value = chance.randint(0, (1 << 31) - 1)
    return made


def read_back(model_id: int, image: list[int], first: int) -> device.Model:
    """The model at `first` of an image, as the library reads it from its bytes."""
    length = image[first + 1]
    octets = struct.pack(f">{length + 2}H", *image[first : first + length + 2])
    return device.Model(model_id, data=octets, model_len=length)


def implemented(point: device.Point) -> bool:
    """Whether the library holds a point for implemented."""
    return point.value is not None and bool(mb.point_type_info[point.pdef["type"]].is_impl(point.value))
