"""Texts in registers: two characters each, high byte first, padded with NUL (common practice, no source)."""

from collections.abc import Sequence

from .value_refused import ValueRefused


def text_of(registers: Sequence[int]) -> str | None:
    """Return the text up to the first NUL, without spaces around it; None when there is nothing, or it is no text."""
    octets = b"".join(register.to_bytes(2) for register in registers)
    # Memory that was never written reads as ones.
    if not octets.strip(b"\xff"):
        return None
    text = octets.split(b"\0")[0].decode("latin-1").strip()
    return text if text and text.isprintable() else None


def text_registers(value: object, length: int) -> list[int]:
    """Return the registers of a text. Raises ValueRefused when it is too long or has characters that one byte cannot hold."""
    text = str(value)
    try:
        octets = text.encode("latin-1")
    except UnicodeEncodeError as error:
        raise ValueRefused("text_not_storable", value=f"{text!r:.40}") from error
    if len(octets) > 2 * length:
        raise ValueRefused("text_too_long", value=f"{text!r:.40}", most=2 * length)
    octets = octets.ljust(2 * length, b"\0")
    return [int.from_bytes(octets[index : index + 2]) for index in range(0, 2 * length, 2)]
