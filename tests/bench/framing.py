"""Frames on both sides of the gateway: MBAP on TCP, RTU on the serial line and inside TCP where it is transparent.

Modbus Messaging on TCP/IP V1.0b, 3.1.3; Modbus over Serial Line V1.02, 2.5.1.
"""

from typing import NamedTuple

RTU_EXTRA = 3
"""Bytes of an RTU frame beyond its PDU: unit and CRC."""
_SHORTEST_RTU = 4
_FIXED_LENGTH = {3: 8, 4: 8, 6: 8, 22: 10}


class Frame(NamedTuple):
    """One request out of a stream: transaction id (0 in RTU), unit, PDU."""

    transaction: int
    unit: int
    pdu: bytes


class Damaged(Exception):
    """Bytes that are no frame in this framing."""


def crc(data: bytes) -> bytes:
    """Return the CRC-16 of an RTU frame, in the order of the wire (Modbus over Serial Line V1.02, 6.2.2)."""
    value = 0xFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ 0xA001 if value & 1 else value >> 1
    return value.to_bytes(2, "little")


def rtu(unit: int, pdu: bytes) -> bytes:
    """Return an RTU frame."""
    body = bytes((unit,)) + pdu
    return body + crc(body)


def mbap(transaction: int, unit: int, pdu: bytes) -> bytes:
    """Return a frame with the TCP header."""
    return transaction.to_bytes(2) + b"\0\0" + (len(pdu) + 1).to_bytes(2) + bytes((unit,)) + pdu


def take_mbap(stream: bytearray) -> Frame | None:
    """Take the next frame out of `stream`, None while it is incomplete; raises Damaged, with `stream` emptied."""
    if len(stream) < 7:
        return None
    length = int.from_bytes(stream[4:6])
    if stream[2:4] != b"\0\0" or not 2 <= length <= 254:
        stream.clear()
        raise Damaged
    if len(stream) < 6 + length:
        return None
    frame = Frame(int.from_bytes(stream[:2]), stream[6], bytes(stream[7 : 6 + length]))
    del stream[: 6 + length]
    return frame


def take_rtu(stream: bytearray) -> Frame | None:
    """Take the next frame out of `stream`, None while it is incomplete; raises Damaged, with `stream` emptied."""
    if len(stream) < _SHORTEST_RTU:
        return None
    function = stream[1]
    if function == 16:
        length = 9 + stream[6] if len(stream) > 6 else len(stream) + 1
    else:
        length = _FIXED_LENGTH.get(function, len(stream))
    if len(stream) < length:
        return None
    taken = bytes(stream[:length])
    if crc(taken[:-2]) != taken[-2:]:
        stream.clear()
        raise Damaged
    del stream[:length]
    return Frame(0, taken[0], taken[1:-2])
