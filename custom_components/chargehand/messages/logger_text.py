"""What the data logger has written, in words."""

from homeassistant.core import callback

from ..core.logger_port import LoggerWrite
from .texts import text

REGISTERS_NAMED = 8
"""More registers than this are counted, not named."""


@callback
def logger_write_text(write: LoggerWrite, base: int) -> str:
    """Return a write in one line; `base` is what the map calls the first register, 0 or 1."""
    what = logger_registers_text(write, base)
    return text("log_logger_wrote", what=what) if write.answered else text("log_logger_may_have_written", what=what)


@callback
def logger_registers_text(write: LoggerWrite, base: int) -> str:
    """Return the registers with what they were and are; of an unknown function, its number."""
    if not write.registers:
        return text("logger_function", function=write.function)
    texts = [_register(write, at, base) for at in sorted(write.registers)[:REGISTERS_NAMED]]
    if (more := len(write.registers) - REGISTERS_NAMED) > 0:
        texts.append(text("logger_registers_more", count=more))
    return ", ".join(texts)


def _register(write: LoggerWrite, at: int, base: int) -> str:
    now, was = write.now.get(at), write.was.get(at)
    if now is None:
        return text("logger_register_bits", register=at + base)
    if was is None:
        return text("logger_register", register=at + base, now=now)
    return text("logger_register_was", register=at + base, now=now, was=was)
