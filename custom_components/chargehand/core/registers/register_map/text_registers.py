"""Texts in registers: two characters each, high byte first, padded with NUL (common practice, no source)."""

from collections.abc import Sequence


def text_of(registers: Sequence[int]) -> str | None:
    """The text up to the first NUL, without spaces around it; None when there is nothing, or it is no text."""
    octets = b"".join(register.to_bytes(2) for register in registers)
    # Memory that was never written reads as ones.
    if not octets.strip(b"\xff"):
        return None
    text = octets.split(b"\0")[0].decode("latin-1").strip()
    return text if text and text.isprintable() else None


def text_registers(value: object, length: int) -> list[int]:
    """The registers of a text. Raises ValueError when it is too long or has characters that one byte cannot hold."""
    text = str(value)
    try:
        octets = text.encode("latin-1")
    except UnicodeEncodeError as error:
        raise ValueError(f"{text!r} has characters that one byte cannot hold") from error
    if len(octets) > 2 * length:
        raise ValueError(f"{text!r} is longer than {2 * length} characters")
    octets = octets.ljust(2 * length, b"\0")
    return [int.from_bytes(octets[index : index + 2]) for index in range(0, 2 * length, 2)]
