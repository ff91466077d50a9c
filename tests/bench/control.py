"""The control port: one JSON object a line in, one a line out."""

import asyncio
import json
from collections.abc import Awaitable, Callable

from tests.bench.commands import Answer, Commands
from tests.bench.memory import Refused
from tests.bench.protocol import Json


class Control:
    """Names of commands, and what carries them out."""

    def __init__(self, commands: Commands) -> None:
        names = (name for name in vars(Commands) if not name.startswith("_"))
        self._commands: dict[str, Callable[..., Awaitable[Answer]]] = {name: getattr(commands, name) for name in names}

    async def talk(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Answer commands until the other side leaves."""
        try:
            while line := await reader.readline():
                writer.write(json.dumps(await self._answer(line)).encode() + b"\n")
                await writer.drain()
        except ConnectionError:
            # A test that ends just leaves.
            return
        finally:
            writer.close()

    async def _answer(self, line: bytes) -> Answer:
        try:
            fields: dict[str, Json] = json.loads(line)
            name = str(fields.pop("do", ""))
            if name not in self._commands:
                return {"error": f"unknown command {name!r}; give one of: {', '.join(sorted(self._commands))}"}
            return {"ok": True} | await self._commands[name](**fields)
        except Refused as refused:
            return {"error": f"the inverter refuses: {refused}"}
        except (TypeError, ValueError, AttributeError) as wrong:
            return {"error": str(wrong)}
