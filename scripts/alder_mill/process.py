"""The demo as a process of its own, for whoever wants to look at its page."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from .faults import DemoFailed
from .paths import HOUSE, ROOT

READY = "Dashboard: "
"""The line that begins so is printed when the house is as it shall be and the page is there."""


@contextmanager
def running(port: int, *arguments: str) -> Iterator[list[str]]:
    """Run the demo with its page on a port, and end it in the end. Yield the lines that it printed until it was ready. Raises DemoFailed."""
    process = subprocess.Popen(
        [sys.executable, "-m", "scripts.alder_mill", "--port", str(port), *arguments],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    try:
        lines = list[str]()
        for line in process.stdout:
            lines.append(line.rstrip())
            if line.startswith(READY):
                break
        else:
            raise DemoFailed(f"the demo did not start; its log is {HOUSE / 'home-assistant.log'}")
        yield lines
    finally:
        process.terminate()
        process.communicate(timeout=60)
