"""Files made to cost time or to fill the screen: a row each, of any size."""

import random
from collections.abc import Callable, Mapping

from .samples import HEAD

ONE = "readings: {a: {input: 1, name: A}}\n"
_random = random.Random(1)


def word() -> str:
    return "".join(_random.choices("abcdefghijklmnopqrstuvwxyz", k=6))


def fill(size: int, head: str, row: Callable[[int], str], tail: str = "") -> str:
    """A file of about `size` bytes, of as many rows as it takes."""
    parts, left, number = [HEAD + head], size - len(HEAD) - len(head) - len(tail), 0
    while len(part := row(number)) <= left:
        parts.append(part)
        left -= len(part)
        number += 1
    return "".join(parts) + tail


BITS = [(low, high) for low in range(15) for high in range(low + 1, 16)]
DENSE = [f" a{at}: {{input: {at}, name: A}}\n" for at in range(700)]

FILES: Mapping[str, Callable[[int], str]] = {
    "one register, four types": lambda size: fill(
        size, "readings:\n", lambda i: f" a{i}: {{input: 1, type: {('u16', 's16', 'u32', 's32')[i % 4]}, name: A}}\n"
    ),
    "one register, one type": lambda size: fill(size, "readings:\n", lambda i: f" a{i}: {{input: 1, name: A}}\n"),
    "many bits of few registers": lambda size: fill(
        size, "readings:\n", lambda i: f" a{i}: {{input: {i % 59}, bits: {list(BITS[i % len(BITS)])}, name: A}}\n"
    ),
    "one bit set by many": lambda size: fill(size, ONE + "controls:\n", lambda i: f" a{i}: {{holding: 1, bit: 1}}\n"),
    "texts upon texts": lambda size: fill(
        size, "readings:\n", lambda i: f" a{i}: {{input: {i % 900}, type: text, length: {20 + i % 41}, name: A}}\n"
    ),
    "words upon words": lambda size: fill(
        size,
        "readings:\n",
        lambda i: f" a{i}: {{table: input, words: [{i % 97}, {100 + i % 89}], type: u32, name: A}}\n",
    ),
    "sums of many": lambda size: fill(
        size,
        "readings:\n",
        lambda i: f" a{i}: {{sum: [{', '.join(f'{{input: {i + k}}}' for k in range(24))}], name: A}}\n",
    ),
    "sums that clash": lambda size: fill(
        size,
        "readings:\n",
        lambda i: f" a{i}: {{sum: [{{input: {i % 50}, type: u32}}, {{input: {i % 50 + 1}, type: s32}}], name: A}}\n",
    ),
    "one direction of many": lambda size: fill(
        size,
        "readings:\n",
        lambda i: f" a{i}: {{input: {i}, direction: {{input: 9, importing: 1, exporting: 2}}, name: A}}\n",
    ),
    "numbers without a max": lambda size: fill(size, ONE + "controls:\n", lambda i: f" a{i}: {{holding: {i}}}\n"),
    "unknown keys": lambda size: fill(size, ONE, lambda _: f"{word()}: 1\n"),
    "unknown keys of a reading": lambda size: fill(size, "readings:\n a:\n", lambda _: f"  {word()}: 1\n"),
    "unknown readings": lambda size: fill(size, "readings:\n", lambda i: f" {word()}_{i}: {{input: {i}}}\n"),
    "unknown fields": lambda size: fill(
        size,
        ONE + "schedule:\n charge:\n  count: 24\n  holding: 1\n  stride: 9\n  fields:\n",
        lambda _: f"   {word()}: {{}}\n",
    ),
    "unknown classes": lambda size: fill(
        size, "readings:\n", lambda i: f" a{i}: {{input: {3 * i}, name: A, device_class: {word()}}}\n"
    ),
    "readings that are none": lambda size: fill(size, "readings:\n", lambda i: f" a{i}: 1\n"),
    "empty readings": lambda size: fill(size, "readings:\n", lambda i: f" a{i}:\n"),
    "one key many times": lambda size: fill(size, "readings:\n", lambda _: " a: {input: 1, name: A}\n"),
    "unclear numbers": lambda size: fill(size, "readings:\n", lambda i: f" a{i}: {{input: 0{i}, name: A}}\n"),
    "spans": lambda size: fill(
        size,
        "readings:\n" + "".join(DENSE) + "line:\n no_read:\n",
        lambda _: "  - {table: input, from: 0, to: 65535}\n",
    ),
    "windows": lambda size: fill(
        size, ONE + "schedule:\n charge:\n  windows:\n", lambda _: "   - {start: {holding: 1}, end: {holding: 2}}\n"
    ),
    "labels out of range": lambda size: fill(
        size, "readings:\n a: {input: 1, name: A, bits: [0, 1], labels: {", lambda i: f"{i}: a{i}, ", "}}\n"
    ),
    "raw values out of range": lambda size: fill(
        size, "readings: {a: {input: 1, name: A, invalid: [", lambda i: f"{70000 + i},", "]}}\n"
    ),
    "a long list": lambda size: fill(size, "readings: [", lambda _: "1,", "]\n"),
    "a list of lists": lambda size: fill(size, "readings: [", lambda _: "[],", "]\n"),
    "sixties": lambda size: HEAD + "readings: {a: {input: 1" + ":1" * (size // 2 - 100) + ", name: A}}\n",
    "digits": lambda size: HEAD + "readings: {a: {input: " + "9" * (size - 200) + ", name: A}}\n",
    "decimals": lambda size: HEAD + "readings: {a: {input: 1, name: A, scale: 0." + "9" * (size - 200) + "}}\n",
    "long keys": lambda size: HEAD + ONE + "".join(f"? {'k' * 5000}{i}\n: 1\n" for i in range(size // 5100)),
    "a long control that arms": lambda size: fill(
        size,
        ONE + "schedule: {armed_by: {control: zz}, charge: {windows: []}}\ncontrols:\n",
        lambda i: f" a{i}: {{holding: {i}, bit: 1}}\n",
    ),
    "what the loader in Python reads": lambda size: fill(
        size, "readings:\n ? a\n : {input: 1, name: A}\n", lambda i: f" a{i}: {{input: {3 * i}}}\n"
    ),
    "what no loader reads": lambda size: fill(
        size, "readings:\n", lambda i: f" a{i}: {{input: {3 * i}, name: A}}\n", "x: ["
    ),
    "flow within flow": lambda size: HEAD + ONE + "x: " + "{a: [" * 9 + ("{}," * (size // 3 - 100)) + "]}" * 9 + "\n",
}
