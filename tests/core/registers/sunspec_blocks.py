"""Images of SunSpec models with repeated blocks, and what pysunspec2 (SunSpec Alliance, 1.3.7) reads from them."""

import random
import struct
from dataclasses import dataclass

from sunspec2 import device

NAMES = ("Roof east", "Roof west", "Battery", "")


@dataclass(frozen=True, slots=True)
class BlockForm:
    """A model with blocks: where its count stands, registers before the first block and in each, and the library's names."""

    model: int
    count_at: int
    head: int
    size: int
    group: str
    name_at: int
    type_at: int | None = None
    """In the block."""


PORTS = BlockForm(714, 4, 20, 25, "Prt", 2, type_at=0)
TRACKERS = BlockForm(160, 8, 10, 20, "module", 1)


def random_blocks(form: BlockForm, chance: random.Random, types: list[int]) -> list[int]:
    """Registers of a model from its id on: any values, with scale factors that are some; of `types` many blocks."""
    count = len(types)
    image = [
        chance.choice([0, 1, 0x7FFF, 0x8000, 0xFFFF, chance.randrange(0x10000)])
        for _ in range(form.head + count * form.size)
    ]
    image[0], image[1], image[form.count_at] = form.model, len(image) - 2, count
    for name, offset in scale_offsets(form).items():
        image[offset] = chance.randint(-3, 3) & 0xFFFF if "V_SF" not in name or chance.random() < 0.9 else 0x8000
    for index, kind in enumerate(types):
        first = form.head + index * form.size
        if form.type_at is not None:
            image[first + form.type_at] = kind
        text = chance.choice(NAMES).encode().ljust(16, b"\0")
        image[first + form.name_at : first + form.name_at + 8] = struct.unpack(">8H", text)
    return image


def scale_offsets(form: BlockForm) -> dict[str, int]:
    """Where the library has the model's scale factors."""
    points = empty(form).points
    return {name: point.offset for name, point in points.items() if point.pdef["type"] == "sunssf"}


def empty(form: BlockForm, count: int = 1) -> device.Model:
    """The model with so many blocks, all registers 0."""
    registers = [form.model, form.head - 2 + count * form.size] + [0] * (form.head - 2 + count * form.size)
    registers[form.count_at] = count
    return model_in(registers)


def model_in(registers: list[int]) -> device.Model:
    """The model that the library reads from its registers."""
    octets = struct.pack(f">{len(registers)}H", *registers)
    return device.Model(registers[0], data=octets, model_len=registers[1])
