"""Decoding Modbus RTU, whose frames have no id."""

from collections.abc import Callable
from typing import override

from pymodbus.framer import FramerRTU
from pymodbus.pdu import ModbusPDU

from .expected_response import EXCEPTION_LENGTH
from .frame_decoder import MAX_FRAME_LENGTH, READ_RESPONSES, FrameDecoder
from .health import LineHealth

EXCEPTION_FRAME_LENGTH = 1 + EXCEPTION_LENGTH + 2
"""Bytes in an exception's frame: unit, PDU and CRC."""

SHORTEST_FRAME = 4
"""Bytes in the shortest frame: unit, function and CRC (Modbus over Serial Line V1.02, 2.5.1)."""


class RtuFrameDecoder(FrameDecoder):
    """Decodes frames that have neither an id nor a mark of where they begin.

    It searches for bytes that begin as the answer must and end with a correct CRC.

    Some adapters return what they send (local echo, common practice). A read shows it, because the answer to a read differs from the
    request. The answer to function 6 or 22 repeats the request, and must not be found in the echo.
    """

    framing = FramerRTU

    def __init__(self, health: LineHealth, on_flood: Callable[[], None]) -> None:
        """Set up a decoder that assumes no echo."""
        super().__init__(health, on_flood)
        self._sent = b""
        self._echoes = False
        self._last_answer = b""
        """The frame of the last answer."""

    @override
    def expect(self, request: ModbusPDU) -> bytes:
        """Expect the answer to a request, and keep the sent frame to recognize its echo."""
        self._sent = super().expect(request)
        return self._sent

    @override
    def _record_unsolicited(self, data: bytes, now: float) -> None:
        """Count bytes that came while no request was pending, and notice when they are the last answer again."""
        super()._record_unsolicited(data, now)
        if data == self._last_answer:
            self._record_repeat()

    def _record_repeat(self) -> None:
        self.repeats_answers = True
        self._health.repeated += 1

    @override
    def _find_answer(self, data: bytes, request: ModbusPDU) -> tuple[int, bytes | None]:
        expected, last = self._expected, self._last_answer
        # If the expected answer looks like the last one, nothing distinguishes the two.
        if last and last in data and not (last[0] == request.dev_id and expected.matches(last[1:-2])):
            self._record_repeat()
            self._last_answer = b""
        if len(data) < len(self._sent) and self._sent.startswith(data):
            return 0, None
        echoed = data.startswith(self._sent)
        begin = len(self._sent) if self._echoes and echoed else 0
        unit = bytes((request.dev_id,))
        sizes = {unit + expected.exception_prefix: EXCEPTION_FRAME_LENGTH}
        if expected.length is not None:
            sizes = {unit + expected.prefix: 1 + expected.length + 2, **sizes}
        earliest = max(begin, len(data) - 2 * MAX_FRAME_LENGTH)
        keep_from = max(earliest, len(data) - len(unit + expected.prefix) + 1)
        for prefix, size in sizes.items():
            at = data.find(prefix, earliest)
            while at >= 0:
                frame = data[at : at + size]
                if len(frame) < size:
                    keep_from = min(keep_from, at)
                    break
                if FramerRTU.compute_CRC(frame[:-2]) == int.from_bytes(frame[-2:]):
                    if request.function_code in READ_RESPONSES:
                        self._echoes = echoed
                    self._last_answer = frame
                    return at + size, frame[1:-2]
                self._damaged |= size > EXCEPTION_FRAME_LENGTH
                at = data.find(prefix, at + 1)
        if expected.length is None:
            begins = data.find(unit + expected.prefix, earliest)
            keep_from = keep_from if begins < 0 else min(keep_from, begins)
            if whole := _frame_to_the_end(data, unit + expected.prefix, earliest):
                self._last_answer = whole
                return len(data), whole[1:-2]
        # The echo stays in the buffer until the answer is there: only the buffer's first bytes show it.
        return (0 if echoed else keep_from), None


def _frame_to_the_end(data: bytes, prefix: bytes, earliest: int) -> bytes | None:
    """Return the frame that begins with `prefix` and ends with what has come so far, if its CRC is correct.

    Nothing else shows where the response to an unknown function ends.
    """
    at = data.find(prefix, earliest)
    while at >= 0:
        frame = data[at:]
        if len(frame) >= SHORTEST_FRAME and FramerRTU.compute_CRC(frame[:-2]) == int.from_bytes(frame[-2:]):
            return frame
        at = data.find(prefix, at + 1)
    return None
