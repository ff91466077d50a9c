"""The command as a process of its own, and what it prints."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import Queue
from threading import Thread

ROOT = Path(__file__).parents[2]


class Trial:
    """A running command."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._lines: Queue[str] = Queue()
        self.printed: list[str] = []
        self._reader = Thread(target=self._read, args=(process,), daemon=True)
        self._reader.start()

    def _read(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        for line in process.stdout:
            self._lines.put(line.rstrip())

    def until(self, words: str) -> str:
        """Return the next line that has these words; all lines up to it are in `printed`."""
        while True:
            line = self._lines.get(timeout=60)
            self.printed.append(line)
            if words in line:
                return line


@contextmanager
def trial(map_file: Path, port: int) -> Iterator[Trial]:
    """Run the command on a map until it serves, and end it in the end."""
    process = subprocess.Popen(
        [sys.executable, "-m", "scripts.map_trial", str(map_file), "--port", str(port)],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        running = Trial(process)
        running.until("Now:")
        yield running
    finally:
        process.terminate()
        process.wait(timeout=60)
