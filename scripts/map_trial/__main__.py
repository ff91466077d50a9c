"""Serve a simulated inverter made from a register map, until Ctrl-C."""

import argparse
import asyncio
import sys
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from custom_components.chargehand.core.registers import MapInvalid, RegisterMap, listed_doubts, load_map

from .inverter import TrialInverter
from .said import acting, places
from .server import server


async def serve(register_map: RegisterMap, host: str, port: int) -> None:
    """Serve, and print what is written and which windows act."""
    # The inverter's own time has no zone.
    inverter = TrialInverter(register_map, lambda: datetime.now().astimezone().replace(tzinfo=None))
    serving = server(inverter, host, port, lambda line: print(line, flush=True))
    try:
        await serving.serve_forever(background=True)
    except RuntimeError as fault:
        raise OSError(f"Nothing can listen at port {port} of {host}. Name another one with --port.") from fault
    where = f"{host}:{port}"
    print(
        f"{register_map.title} is served at {where} by Modbus TCP, unit {register_map.line.unit}: {places(register_map.schedule)}."
    )
    print("Add it in Home Assistant by that address and port with the same map, and change its schedule.")
    print(
        f"Nothing here is a real inverter, and times are those of its own clock. Now:\n{acting(inverter)}", flush=True
    )
    await asyncio.Event().wait()


def main() -> int:
    """Parse the command line and run."""
    parser = argparse.ArgumentParser(prog="scripts/try_map", description=__doc__)
    parser.add_argument("map", type=Path, help="the register map's file")
    parser.add_argument("--host", default="127.0.0.1", help="address to listen at (default: this machine alone)")
    parser.add_argument("--port", type=int, default=5020, help="port to listen at (default: 5020)")
    arguments = parser.parse_args()
    try:
        register_map = load_map(arguments.map)
        for line in listed_doubts(register_map.doubts):
            print(line, file=sys.stderr)
        with suppress(KeyboardInterrupt):
            asyncio.run(serve(register_map, arguments.host, arguments.port))
    except (MapInvalid, OSError) as fault:
        print(fault, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
