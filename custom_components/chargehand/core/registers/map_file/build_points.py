"""Points made from the sections of a map."""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import cast

from ..register_map import NUMBERS, TEXT, Address, Point, Table, cure, mistake, spans_of
from .document import Document, Path_
from .sections import Section

LAST_ADDRESS = 0xFFFF

TABLE_DIGITS: Mapping[str, int] = {Table.INPUT: 3, Table.HOLDING: 4}
"""What documents put in front of a register's number: 30102 is input register 102, counted from 1 (common practice, no source)."""

type Place = tuple[Table, tuple[int, ...]]
"""A table, and the first of the registers in it; all of them where they do not follow each other."""


class Builder:
    """Makes points as one map's line section says addresses are counted and words ordered."""

    def __init__(self, document: Document, line: Section) -> None:
        """Take the numbering, word order and longest requests from the line section."""
        self.document = document
        self.base = 1 if line["numbering"] == "from_1" else 0
        self.low_first = line["word_order"] == "low_first"
        self.longest_read = line["longest_read"]
        self.longest_write = line["longest_write"]
        self.powers: Mapping[str, Point | None] = {}
        """Values of the map by name, in W, of which limits can be a percentage; None for those that are no power."""

    def address(self, path: Path_, number: object, length: int = 1, table: str = Table.HOLDING) -> int | None:
        """Return an address as on the wire; None (and a problem) when no such register exists."""
        named = cast("int", number)
        first = named - self.base
        if first < 0:
            self.document.wrong(path, mistake("no_register_0"), cure("number_from_1"))
            return None
        digit, own = divmod(named, 10_000)
        if self.base and own and digit == TABLE_DIGITS[table]:
            right = cure("without_digit_or_from_0", number=own, wire=first)
            self.document.wrong(path, mistake("table_digit", number=named), right)
            return None
        if first + length - 1 > LAST_ADDRESS:
            last = LAST_ADDRESS + self.base
            self.document.wrong(path, mistake("past_last_register"), cure("last_register", last=last))
            return None
        return first

    def point(self, path: Path_, section: Section) -> Point | None:
        """Return a value's point; None when anything in it is wrong, all of it noted."""
        found = self.document.mistakes
        kind = str(section["type"])
        bits, flag = self._bits(path, section, kind)
        on_off = self.on_off(path, section, kind, bits)
        length = self._length(path, section, kind)
        place = self._place(path, section, kind, length)
        low_first, low_byte_first = self._orders(path, section, kind)
        self._plain(path, section, kind, flag=flag or on_off is not None)
        invalid = self._invalid(path, section, kind, bits)
        scale_at = self._scale_at(path, section)
        if place is None or self.document.mistakes > found:
            return None
        table, (first, *others) = place
        made = Point(
            table=table,
            first=first,
            type=kind,
            length=length,
            words=(first, *others) if others else (),
            low_first=low_first,
            low_byte_first=low_byte_first,
            bits=bits,
            flag=flag or on_off is not None,
            on_off=on_off,
            scale=Decimal(str(section["scale"])),
            offset=Decimal(str(section["offset"])),
            scale_at=scale_at,
            invalid=invalid,
        )
        self.check_read(path, made.addresses)
        if scale_at in made.addresses:
            self.document.wrong((*path, "scale_at"), mistake("scale_at_itself"), cure("look_up_place"))
        return made if self.document.mistakes == found else None

    def check_length(self, path: Path_, length: int) -> None:
        """Note a value that no one read can bring: put together from two it could be one that never was."""
        if isinstance(self.longest_read, int) and length > self.longest_read:
            longest = cure("longest_read", most=self.longest_read)
            self.document.wrong(path, mistake("more_than_one_read", count=length), longest)

    def check_read(self, path: Path_, group: Sequence[Address]) -> None:
        """Note registers of one value that follow each other and that no one read can bring."""
        self.check_length(path, max(span.last - span.first + 1 for span in spans_of([group])))

    def _place(self, path: Path_, section: Section, kind: str, length: int) -> Place | None:
        """Which table and registers a point names; None when that is not clear."""
        named = [name for name in (*Table, "words") if name in section]
        if "table" in section and "words" not in section:
            self.document.wrong((*path, "table"), mistake("table_without_words"), cure("one_table"))
        elif len(named) != 1:
            self.document.wrong(path, mistake("both_tables") if named else mistake("no_register"), cure("one_table"))
        elif named == ["words"]:
            return self._words(path, section, kind, length)
        else:
            table = Table(named[0])
            first = self.address((*path, table.value), section[table], length, table)
            return None if first is None else (table, (first,))
        return None

    def _words(self, path: Path_, section: Section, kind: str, length: int) -> Place | None:
        """Which registers make a value together, most significant first."""
        here = (*path, "words")
        numbers = cast("tuple[int, ...]", section["words"])
        if "table" not in section:
            self.document.wrong(
                path, mistake("words_without_table"), cure("give", choice="table: input, table: holding")
            )
        elif kind == TEXT:
            self.document.wrong(here, mistake("text_has_no", key="words"), cure("one_table"))
        elif length != len(numbers):
            reason = mistake("words_of_type", count=len(numbers), type=kind, length=length)
            self.document.wrong(
                here, reason, cure("type_of_words", count=length) if length > 1 else cure("longer_type")
            )
        elif "word_order" in section:
            reason = mistake("both", first="words", second="word_order")
            self.document.wrong((*path, "word_order"), reason, cure("words"))
        else:
            table = Table(str(section["table"]))
            firsts = [self.address(here, number, 1, table) for number in numbers]
            whole = tuple(first for first in firsts if first is not None)
            return (table, whole) if len(whole) == len(firsts) else None
        return None

    def _orders(self, path: Path_, section: Section, kind: str) -> tuple[bool, bool]:
        """Whether the low register comes first, and whether the low byte of each does."""
        if "word_order" in section and (kind == TEXT or NUMBERS[kind].registers == 1):
            text, one = mistake("text_has_no", key="word_order"), mistake("one_register_has_no_order", type=kind)
            self.document.wrong((*path, "word_order"), text if kind == TEXT else one, cure("leave_out"))
        if "byte_order" in section and ("bit" in section or "bits" in section):
            self.document.wrong((*path, "byte_order"), mistake("bit_has_no", key="byte_order"), cure("leave_out"))
        low_first = section["word_order"] == "low_first" if "word_order" in section else self.low_first
        return low_first and "words" not in section, section.get("byte_order") == "low_first"

    def _length(self, path: Path_, section: Section, kind: str) -> int:
        if kind != TEXT:
            registers = NUMBERS[kind].registers
            if "length" in section:
                takes = cure("leave_length_out", type=kind, count=registers)
                self.document.wrong((*path, "length"), mistake("length_of_number"), takes)
            return registers
        if "length" not in section:
            self.document.wrong(path, mistake("text_without_length"), cure("length"))
        return cast("int", section.get("length", 1))

    def _bits(self, path: Path_, section: Section, kind: str) -> tuple[tuple[int, int] | None, bool]:
        if "bit" not in section and "bits" not in section:
            return None, False
        if "bit" in section and "bits" in section:
            self.document.wrong((*path, "bits"), mistake("both", first="bit", second="bits"), cure("keep_one"))
        elif kind != "u16":
            key = "bit" if "bit" in section else "bits"
            self.document.wrong((*path, key), mistake("bits_of_one", type=kind), cure("register_of_bits"))
        if "bit" in section:
            bit = cast("int", section["bit"])
            return (bit, bit), True
        return cast("tuple[int, int]", section["bits"]), False

    def on_off(
        self, path: Path_, section: Section, kind: str, bits: tuple[int, int] | None = None
    ) -> tuple[int, int] | None:
        """Return the raw values that mean on and off, as the type reads them; None where the section names none that can be."""
        given = [key for key in ("on", "off") if key in section]
        if not given:
            return None
        found = self.document.mistakes
        if len(given) == 1:
            missing = "off" if given == ["on"] else "on"
            self.document.wrong(path, mistake("one_without", key=given[0], other=missing), cure("give_both"))
        elif "bit" in section:
            self.document.wrong((*path, given[0]), mistake("both", first="bit", second=given[0]), cure("keep_one"))
        elif kind == TEXT or NUMBERS[kind].is_float:
            self.document.wrong(
                (*path, "type"), mistake("no_switch_type", type=kind), cure("leave_out_key", key="type")
            )
        elif section["on"] == section["off"]:
            self.document.wrong((*path, "off"), mistake("on_is_off"), cure("own_values"))
        if self.document.mistakes > found:
            return None
        values = self._raw_values(path, "on", (cast("int", section[key]) for key in given), kind, bits)
        return None if self.document.mistakes > found else (values[0], values[1])

    def _plain(self, path: Path_, section: Section, kind: str, *, flag: bool) -> None:
        """Note what only numbers have, at a text or a flag."""
        if kind != TEXT and not flag:
            return
        for key, given in (
            ("scale", section["scale"] != 1),
            ("offset", section["offset"] != 0),
            ("scale_at", "scale_at" in section),
            ("invalid", "invalid" in section),
        ):
            if given:
                number = mistake("bit_has_no", key=key) if "bit" in section else mistake("switch_has_no", key=key)
                reason = mistake("text_has_no", key=key) if kind == TEXT else number
                self.document.wrong((*path, key), reason, cure("leave_out"))

    def _scale_at(self, path: Path_, section: Section) -> Address | None:
        if "scale_at" not in section:
            return None
        ((table, number),) = cast("dict[str, object]", section["scale_at"]).items()
        first = self.address((*path, "scale_at"), number, 1, table)
        return None if first is None else (Table(table), first)

    def _invalid(self, path: Path_, section: Section, kind: str, bits: tuple[int, int] | None) -> frozenset[int]:
        if kind == TEXT:
            return frozenset()
        return frozenset(
            self._raw_values(path, "invalid", cast("Iterable[int]", section.get("invalid", ())), kind, bits)
        )

    def _raw_values(
        self, path: Path_, key: str, values: Iterable[int], kind: str, bits: tuple[int, int] | None
    ) -> tuple[int, ...]:
        """Return raw values as the type reads them: 0x8000 in an s16 is −32768. Notes those that can never be read."""
        values = tuple(values)
        number = NUMBERS[kind]
        size = 16 * number.registers if bits is None else bits[1] - bits[0] + 1
        lowest = number.lowest if number.is_signed else 0
        for value in values:
            if not lowest <= value < 1 << size:
                never = mistake("never_read", value=f"{value:#x}")
                self.document.wrong((*path, key), never, cure("values_of_bits", count=size))
        return tuple(number.as_read(value) if bits is None else value for value in values)
