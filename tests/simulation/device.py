"""An inverter of a kind behind its gateway, in memory: it answers, goes wrong to order, and notes after each change what it acts on."""

import asyncio
import struct
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import override

from tests.bench.faults import KINDS, NONE
from tests.bench.faults import Kind as Way
from tests.bench.framing import mbap, rtu, take_mbap, take_rtu

from .kinds import Kind
from .loop import SimulatedLoop
from .oracle import Act, acts

READ_HOLDING, WRITE_ONE, WRITE_SEVERAL, WRITE_MASK = 3, 6, 16, 22
ADDRESS, BUSY = 2, 6
HOST, PORT = "inverter", 502
TURNAROUND = 0.02
"""Seconds from a request to its answer, time on the line among them."""


OWN = {"hand", "repeat", "restart", "killed", "killed_after", "both_restart"}


@dataclass(frozen=True, kw_only=True, slots=True)
class Order:
    """A fault at the nth request from now, or at every one from there on.

    `kind` is one of the bench's, or one of `OWN`: another hand, an answer that comes twice, a restart of the inverter, an end of Chargehand.
    """

    kind: str
    nth: int
    forever: bool = False
    code: int = 4
    ms: float = 0.0
    address: int = 0
    value: int = 0
    mask: int = 0xFFFF
    """Bits that another hand changes."""


@dataclass(slots=True)
class Write:
    """A write that reached memory or was to: what it was, and what memory held just before."""

    function: int
    values: dict[int, int]
    """For function 22 what the register becomes."""

    before: dict[int, int]
    number: int
    """Which request it was, from 1."""


@dataclass(slots=True)
class Record:
    """What has happened since the case began."""

    requests: int = 0
    met: bool = False
    repeated: bool = False
    """Whether an answer came twice, so that a second look may have brought the first one's answer."""
    writes: list[Write] = field(default_factory=list)
    acted: list[tuple[frozenset[Act], frozenset[int]]] = field(default_factory=list)
    """What it acted on after each change, and the registers that somebody else had put something into by then."""
    at_last_read: dict[int, int] = field(default_factory=dict)
    """What each register held when it was read last."""
    clamped: set[int] = field(default_factory=set)
    """Registers in which the inverter itself has put something else than was written."""
    hands: list[tuple[int, int]] = field(default_factory=list)
    """When another hand changed something, in requests, and where."""
    unread: set[int] = field(default_factory=set)
    """Registers that were not read since it restarted and lost what was not saved; none where it refuses writes then."""
    deceived: bool = False
    """Whether the inverter has answered that it saved, and did not."""


class Device:
    """One inverter and its gateway."""

    def __init__(self, loop: SimulatedLoop, kind: Kind) -> None:
        self.kind = kind
        self.memory: dict[int, int] = {}
        self.record = Record()
        self.strange: set[int] = set()
        """Registers that hold what nobody asked for: another hand's, or clamped."""
        self.saved: dict[int, int] = {}
        """What memory held when it was saved last: what is there after a restart."""
        self.order: Order | None = None
        self.kill: Callable[[], None] = lambda: None
        """Ends Chargehand."""
        self._saved_strange: set[int] = set()
        self._all_saved = True
        self._unlocked_until = float("-inf")
        self._loop = loop
        self._not_before = 0.0
        self._last_write = float("-inf")
        self._ends: set[_End] = set()
        loop.serve(lambda: _End(self), HOST, PORT)

    def hold(self, memory: dict[int, int]) -> None:
        """Begin a case with this memory and no fault."""
        self.memory, self.strange, self.order = dict(memory), set(), None
        self._save()
        self._unlocked_until = float("-inf")
        self._last_write = float("-inf")
        self.record = Record(at_last_read=dict(memory))

    def noted(self) -> None:
        """Note what it acts on now."""
        save = self.kind.save
        if self.record.unread and save is not None and not save.activates:
            # Chargehand cannot know that what it took away to write safely is there again.
            return
        if save is not None and save.activates:
            self.record.acted.append((acts(self.kind, self.saved), frozenset(self._saved_strange)))
        else:
            self.record.acted.append((acts(self.kind, self.memory), frozenset(self.strange)))

    def poke(self, values: dict[int, int]) -> None:
        """Put values into memory as a write would."""
        self._store(values)

    def be_busy(self) -> None:
        """Be as busy as after a write."""
        self._last_write = self._loop.time()

    def joined(self, end: _End) -> None:
        """Take a new connection."""
        self._ends.add(end)

    def left(self, end: _End) -> None:
        """Forget a connection that has gone."""
        self._ends.discard(end)

    def asked(self, end: _End, transaction: int, unit: int, pdu: bytes) -> None:
        """Carry out a request once those before it are carried out."""
        at = max(self._loop.time(), self._not_before) + TURNAROUND
        self._not_before = at
        self._loop.call_at(at, self._carry_out, end, transaction, unit, pdu)

    def _carry_out(self, end: _End, transaction: int, unit: int, pdu: bytes) -> None:
        self.record.requests += 1
        since = (self._loop.time() - self._last_write) * 1000
        if since < self.kind.deaf_ms:
            return
        if since < self.kind.busy_ms or (pdu[0] != READ_HOLDING and since < self.kind.busy_writes_ms):
            self._answer(end, transaction, unit, bytes((pdu[0] | 0x80, BUSY)), KINDS[NONE], None)
            return
        order, way = self._order(pdu)
        if order is not None and order.kind in {"restart", "both_restart"}:
            self._restart()
        if order is not None and order.kind in {"restart", "both_restart", "killed"}:
            if order.kind != "restart":
                self.kill()
            return
        if not way.reaches:
            code = order.code if order is not None else 4
            if way.answers == "whole":
                self._answer(end, transaction, unit, bytes((pdu[0] | 0x80, code)), way, order)
            elif way.answers == "reset":
                end.reset()
            return
        answer = self._served(pdu, way, order)
        if order is not None and order.kind == "hand":
            self._hand(order)
        if order is not None and order.kind == "killed_after":
            self.kill()
        self._answer(end, transaction, unit, answer, way, order)

    def _order(self, pdu: bytes) -> tuple[Order | None, Way]:
        order = self.order
        number = self.record.requests
        if order is None or (number != order.nth and not (order.forever and number > order.nth)):
            return None, KINDS[NONE]
        if order.kind in OWN:
            self.record.met = True
            return order, KINDS[NONE]
        way = KINDS[order.kind]
        if way.writes_only and pdu[0] == READ_HOLDING:
            return None, KINDS[NONE]
        self.record.met = True
        return order, way

    def _hand(self, order: Order) -> None:
        held = self.memory[order.address]
        self.memory[order.address] = (held & ~order.mask & 0xFFFF) | (order.value & order.mask)
        if self.memory[order.address] != held:
            self.record.hands.append((self.record.requests, order.address))
            self.strange.add(order.address)
            self.noted()

    def _served(self, pdu: bytes, way: Way, order: Order | None) -> bytes:
        function = pdu[0]
        if function == READ_HOLDING:
            first, count = struct.unpack(">HH", pdu[1:])
            if any(at not in self.memory for at in range(first, first + count)):
                return bytes((function | 0x80, ADDRESS))
            seen = {at: self._shown(at) for at in range(first, first + count)}
            self.record.at_last_read |= seen
            self.record.unread -= seen.keys()
            return struct.pack(f">BB{count}H", function, 2 * count, *seen.values())
        if function == WRITE_MASK and self.kind.mask_write:
            address, keep, put = struct.unpack(">HHH", pdu[1:])
            # Modbus Application Protocol V1.1b3, 6.16: (contents AND and_mask) OR (or_mask AND (NOT and_mask)).
            values = {address: (self.memory[address] & keep) | (put & ~keep & 0xFFFF)}
            answer = pdu
        elif function == WRITE_ONE and self.kind.function == WRITE_ONE:
            values, answer = dict((struct.unpack(">HH", pdu[1:]),)), pdu
        elif (function == WRITE_SEVERAL and self.kind.function == WRITE_SEVERAL) or (
            function == WRITE_SEVERAL and self.kind.whole
        ):
            first, count, _ = struct.unpack(">HHB", pdu[1:6])
            values, answer = dict(enumerate(struct.unpack(f">{count}H", pdu[6:]), first)), pdu[:5]
        else:
            return bytes((function | 0x80, 1))
        if self.kind.whole and not self._whole(values):
            return bytes((function | 0x80, 3))
        if (lock := self.kind.lock) is not None and lock.address not in values and not self._is_unlocked():
            save = self.kind.save
            # Where the unlock went wrong, nothing tells of a save that is ignored.
            unseen = self.record.met and lock.code is None and save is not None and save.address in values
            self.record.deceived |= unseen and not save.told
            return answer if lock.code is None else bytes((function | 0x80, lock.code))
        if (save := self.kind.save) is not None and save.address in values and save.code is not None:
            return bytes((function | 0x80, save.code))
        self.record.writes.append(Write(function, values, dict(self.memory), self.record.requests))
        if (
            save is not None
            and save.address in values
            and way.stores in {"clamped", "nothing"}
            and way.answers == "whole"
        ):
            self.record.deceived |= not save.told
        match way.stores:
            case "whole":
                self._store(values)
            case "clamped":
                halved = {at: value // 2 for at, value in values.items()}
                others = {at for at, value in values.items() if value != halved[at]}
                self.record.clamped |= others
                self._store(halved, others)
            case "later":
                delay = order.ms / 1000 if order is not None else 0.0
                self._loop.call_later(delay, self._store, values)
            case "nothing":
                pass
        return answer

    def _whole(self, values: dict[int, int]) -> bool:
        """Whether a write is of one window whole, or of none."""
        touched = [slot for slot in self.kind.slots if not values.keys().isdisjoint(slot.registers)]
        return not touched or [sorted(slot.registers) for slot in touched] == [sorted(values)]

    def _is_unlocked(self) -> bool:
        return self._loop.time() < self._unlocked_until

    def _shown(self, address: int) -> int:
        """Return what reading a register gives: those that unlock and save hold nothing themselves."""
        lock, save = self.kind.lock, self.kind.save
        if lock is not None and address == lock.address:
            return int(self._is_unlocked()) if lock.told else 0
        if save is not None and address == save.address:
            return 2 if save.told and self._all_saved else 0
        return self.memory[address]

    def _command(self, values: dict[int, int]) -> None:
        """Take a write of the registers that unlock and save; one with another value does nothing."""
        lock, save = self.kind.lock, self.kind.save
        if lock is not None and values == {lock.address: lock.key}:
            self._unlocked_until = float("inf") if lock.lasts_ms is None else self._loop.time() + lock.lasts_ms / 1000
        if save is not None and values == {save.address: save.value}:
            self._save()
            self.noted()

    def _save(self) -> None:
        self.saved, self._saved_strange, self._all_saved = dict(self.memory), set(self.strange), True

    def _restart(self) -> None:
        """Lose what was not saved, and be locked."""
        self._unlocked_until = float("-inf")
        if self.kind.save is not None:
            self.memory, self.strange, self._all_saved = dict(self.saved), set(self._saved_strange), True
            self.noted()
            self.record.unread = set(self.kind.own) if self.kind.lock is None else set()

    def _store(self, values: dict[int, int], strange: set[int] | None = None) -> None:
        lock = self.kind.lock
        if lock is not None and lock.once and lock.address not in values:
            self._unlocked_until = float("-inf")
        if not values.keys().isdisjoint(self.kind.commands):
            self._last_write = self._loop.time()
            self._command(values)
            return
        self._all_saved = False
        self.memory |= values
        self.strange = (self.strange - values.keys()) | (strange or set())
        self._last_write = self._loop.time()
        self.noted()

    def _answer(self, end: _End, transaction: int, unit: int, pdu: bytes, way: Way, order: Order | None) -> None:
        wrong = int(way.answers == "wrong_id")
        if self.kind.framing == "tcp":
            frame = mbap((transaction + wrong) % 0x10000, unit, pdu)
        else:
            frame = rtu((unit + wrong) % 0x100, pdu)
        match way.answers:
            case "never":
                return
            case "reset":
                end.reset()
                return
            case "half":
                frame = frame[: len(frame) // 2]
            case "late":
                self._loop.call_later(order.ms / 1000 if order is not None else 0.0, end.send, frame)
                return
            case _:
                pass
        end.send(frame)
        if self.kind.repeats or (order is not None and order.kind == "repeat"):
            self.record.repeated = True
            self._loop.call_later(TURNAROUND / 2, end.send, frame)


class _End(asyncio.Protocol):
    """The gateway's end of one connection."""

    def __init__(self, device: Device) -> None:
        self._device = device
        self._stream = bytearray()
        self._transport: asyncio.Transport | None = None

    @override
    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self._transport = transport
        self._device.joined(self)

    @override
    def connection_lost(self, exc: Exception | None) -> None:
        self._transport = None
        self._device.left(self)

    @override
    def data_received(self, data: bytes) -> None:
        self._stream += data
        take = take_mbap if self._device.kind.framing == "tcp" else take_rtu
        while frame := take(self._stream):
            self._device.asked(self, frame.transaction, frame.unit, frame.pdu)

    def send(self, frame: bytes) -> None:
        """Send, if anyone is still there."""
        if self._transport is not None:
            self._transport.write(frame)

    def reset(self) -> None:
        """Drop the connection."""
        if self._transport is not None:
            self._transport.abort()
