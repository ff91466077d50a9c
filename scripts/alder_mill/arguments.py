"""The demo's command line."""

import argparse


def read_arguments() -> argparse.Namespace:
    """Read the command line. Ends the process with a message for what is wrong."""
    parser = argparse.ArgumentParser(
        prog="scripts/demo", description="Chargehand on an invented inverter at Alder Mill."
    )
    parser.add_argument("--once", action="store_true", help="stop after the receipt of a fixed schedule")
    parser.add_argument("--port", type=_port, default=8123, help="port of the web page (8123)")
    return parser.parse_args()


def _port(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError("a port is a whole number from 1 to 65535")
    return int(text)
