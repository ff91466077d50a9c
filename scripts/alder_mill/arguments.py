"""The demo's command line."""

import argparse
from datetime import datetime, time

from .other_hand import ORDER

EPILOG = """\
at another speed: the house's clocks run N times as fast once the page is there: Home Assistant's and Chargehand's time and timers, the
inverter, its battery and the page's now. The line to the inverter, its time-outs and pauses, and logins stay in real time. So readings
come as seldom as ever: at --speed 60 one reading takes about a minute of the house.
"""


def read_arguments() -> argparse.Namespace:
    """Read the command line. Ends the process with a message for what is wrong."""
    parser = argparse.ArgumentParser(
        prog="scripts/demo", description="Chargehand on an invented inverter at Alder Mill.", epilog=EPILOG
    )
    parser.add_argument("--once", action="store_true", help="stop after the receipt of a fixed schedule")
    parser.add_argument("--port", type=_port, default=8123, help="port of the web page (8123)")
    parser.add_argument(
        "--speed", type=_speed, default=1, metavar="N", help="let the house's time pass N times as fast, 1 to 600"
    )
    parser.add_argument("--begin", type=_hour, metavar="HH:MM", help="begin at this hour of today in the house's time")
    running = parser.add_argument_group("in another terminal, while a demo runs").add_mutually_exclusive_group()
    running.add_argument(
        "--other-hand",
        type=_order,
        metavar="ORDER",
        help='change the inverter behind Chargehand\'s back: "charge 02:00-04:00", "charge off", the same with discharge; '
        "it is the first window, with the power and the stop level that it has",
    )
    running.add_argument("--gateway", choices=("away", "back"), help="let the gateway vanish, or come back")
    arguments = parser.parse_args()
    if arguments.once and (arguments.speed != 1 or arguments.begin is not None):
        parser.error("--once has no evening that could pass: leave --speed and --begin out")
    return arguments


def _port(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError("a port is a whole number from 1 to 65535")
    return int(text)


def _speed(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 600:
        raise argparse.ArgumentTypeError("a speed is a whole number from 1 to 600")
    return int(text)


def _hour(text: str) -> time:
    try:
        return datetime.strptime(text, "%H:%M").time()  # noqa: DTZ007 - an hour alone
    except ValueError as fault:
        raise argparse.ArgumentTypeError("an hour is like 22:00") from fault


def _order(text: str) -> str:
    if not ORDER.fullmatch(text):
        raise argparse.ArgumentTypeError('an order is like "charge 02:00-04:00" or "discharge off"')
    return text
